// @ts-check
/**
 * On an enrolled tablet: keeps its worker installed and, on the office's own pages too, its pocket sending.
 *
 * Which bundle is in use is the worker's to say; this page may come from a newer office.
 */
export async function onTablet() {
  if (!("serviceWorker" in navigator) || !localStorage.getItem("cotterpin-tablet")) return;
  // A later one is put in its place when a contact says that there is another bundle (start.js).
  if (!(await navigator.serviceWorker.getRegistration())) {
    const { hash } = await (await fetch("/bundle/manifest.json")).json();
    await register(hash);
  }
  const { active } = await navigator.serviceWorker.ready;
  if (active === null) return;
  const { port1, port2 } = new MessageChannel();
  port1.onmessage = async ({ data }) => {
    const { backstage } = await import(`/bundle/${data}/tablet/start.js`);
    backstage(data);
  };
  active.postMessage("which", [port2]);
}

/**
 * Install the worker. Its address names the bundle, and it and what it imports may be kept: so a browser that looks for
 * another with every page it opens asks the office for nothing.
 *
 * @param {string} hash of the bundle that the office has now
 */
export const register = (hash) => navigator.serviceWorker.register(`/worker.js?${hash}`, { type: "module", updateViaCache: "all" });
