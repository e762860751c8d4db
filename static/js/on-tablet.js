// @ts-check
/**
 * On an enrolled tablet: keeps its worker installed and, on the office's own pages too, its pocket sending.
 *
 * Which bundle is in use is the worker's to say; this page may come from a newer office.
 */
export async function onTablet() {
  if (!("serviceWorker" in navigator) || !localStorage.getItem("cotterpin-tablet")) return;
  await navigator.serviceWorker.register("/worker.js", { type: "module", updateViaCache: "none" });
  const { active } = await navigator.serviceWorker.ready;
  if (active === null) return;
  const { port1, port2 } = new MessageChannel();
  port1.onmessage = async ({ data }) => {
    const { backstage } = await import(`/bundle/${data}/tablet/start.js`);
    backstage(data);
  };
  active.postMessage("which", [port2]);
}
