/**
 * What a browser gives the tablet's scripts, for a script engine without one: pages with a clock that moves when told
 * to, timers, requests that a test answers, locks, channels and a slow hash. A plain script, run after
 * `fake_indexeddb.js`. Python drives it: one task a call, since what a task set off is done when the call is.
 */
const browser = (() => {
  const tasks = [];
  const pages = {};
  let timers = [];
  let calls = [];
  let locks = [];
  let channels = [];
  let number = 0;
  const later = (owner, task, first = false) => tasks[first ? "unshift" : "push"]([owner, task]);
  const { Disk, IDBKeyRange, DOMException } = fakeIndexedDB(later);
  Object.assign(globalThis, { IDBKeyRange, DOMException });

  /** Ask Python for something: `answer` brings it. */
  function ask(owner, kind, asked) {
    number += 1;
    const call = { id: number, owner, kind, asked, isTaken: false };
    calls.push(call);
    return new Promise((resolve, reject) => Object.assign(call, { resolve, reject }));
  }

  function pageOf(owner, clock) {
    const setTimeout = (run, ms = 0) => {
      number += 1;
      timers.push({ id: number, at: world.now + Math.max(0, ms), owner, run });
      return number;
    };
    const clearTimeout = (id) => { timers = timers.filter((one) => one.id !== id); };
    const AbortSignal = {
      timeout(ms) {
        const signal = { listeners: [] };
        const end = () => signal.listeners.forEach((one) => one(new DOMException("too long", "TimeoutError")));
        setTimeout(end, ms);
        return signal;
      },
    };
    const fetch = (path, { method = "GET", headers = {}, body = "", signal } = {}) => {
      const asked = ask(owner, "fetch", { path, method, headers, body });
      if (!signal) return asked;
      return new Promise((resolve, reject) => {
        signal.listeners.push(reject);
        asked.then(resolve, reject);
      });
    };
    class BroadcastChannel {
      constructor(name) {
        Object.assign(this, { name, owner, onmessage: null });
        channels.push(this);
      }
      postMessage(data) {
        const text = JSON.stringify(data);
        for (const one of channels.filter((other) => other !== this && other.name === this.name)) {
          later(one.owner, () => one.onmessage?.({ data: JSON.parse(text) }));
        }
      }
      close() { channels = channels.filter((one) => one !== this); }
    }
    const navigator = {
      locks: {
        request(name, work) {
          return new Promise((resolve, reject) => {
            locks.push({ name, owner, isHeld: false, begin: () => work({ name }).then(resolve, reject) });
            giveLocks();
          });
        },
      },
    };
    const crypto = {
      getRandomValues: (bytes) => bytes.map((_, i) => { bytes[i] = (number += 1) % 256; return bytes[i]; }),
      subtle: {
        importKey: async (_form, raw) => ({ raw: [...raw] }),
        deriveBits: async ({ salt, iterations }, { raw }, bits) =>
          new Uint8Array(await ask(owner, "pbkdf2", { password: raw, salt: [...salt], iterations, bits })).buffer,
      },
    };
    class TextEncoder {
      encode(text) { return Uint8Array.from(unescape(encodeURIComponent(text)), (one) => one.charCodeAt(0)); }
    }
    class Response {
      constructor(body, { status = 200, headers = {} } = {}) { Object.assign(this, { body, status, headers }); }
      async text() { return String(this.body ?? ""); }
    }
    class Blob {}
    const console = { error: (error) => world.errors.push(String(error)) };
    const now = () => world.now + clock.off;
    return {
      setTimeout, clearTimeout, AbortSignal, fetch, BroadcastChannel, navigator, crypto, TextEncoder, console,
      Response, Blob, now, clock,
    };
  }

  function giveLocks() {
    for (const one of locks) {
      if (one.isHeld || locks.some((other) => other.isHeld && other.name === one.name)) continue;
      one.isHeld = true;
      later(one.owner, () => one.begin().finally(() => {
        locks = locks.filter((other) => other !== one);
        giveLocks();
      }));
    }
  }

  /** What a form sends, or an address asks: names and values, in their order. */
  class Fields {
    constructor(pairs) { this.pairs = pairs; }
    get(name) { return this.pairs.find(([one]) => one === name)?.[1] ?? null; }
    [Symbol.iterator]() { return this.pairs[Symbol.iterator](); }
  }

  const responseOf = ({ status, text }) => ({ status, json: async () => JSON.parse(text), text: async () => text });

  const world = {
    now: 0,
    disk: new Disk(),
    errors: [],
    results: {},
    fields: (pairs) => new Fields(pairs),
    /** A page of the tablet, with modules of its own. `run` makes them: `(modules, page) => …`. */
    open(id, run) {
      const factory = world.disk.factory();
      const page = pageOf(factory, { off: 0 });
      pages[id] = { ...page, factory, m: Object.create(null), told: [] };
      run(pages[id].m, page);
    },
    kill(id) {
      const { factory } = pages[id];
      factory.kill();
      timers = timers.filter((one) => one.owner !== factory);
      calls = calls.filter((one) => one.owner !== factory);
      channels = channels.filter((one) => one.owner !== factory);
      locks = locks.filter((one) => one.owner !== factory);
      giveLocks();
    },
    /** Begin work on a page; what comes of it is in `results`. */
    begin(id, key, work, args) {
      const page = pages[id];
      later(page.factory, () => {
        Promise.resolve().then(() => work(page, ...args)).then(
          (found) => { world.results[key] = { found: JSON.stringify(found) ?? "null" }; },
          ({ name, code = "", message, stack }) => {
            world.results[key] = { failed: name, code, words: `${message}\n${stack}` };
          },
        );
      });
    },
    /** One task; whether there was one. */
    step() {
      while (tasks.length) {
        const [owner, task] = tasks.shift();
        if (owner.isKilled) continue;
        task();
        return true;
      }
      return false;
    },
    /** The next request nobody has taken yet. */
    take() {
      const call = calls.find((one) => !one.isTaken);
      if (!call) return "null";
      call.isTaken = true;
      const page = Object.keys(pages).find((id) => pages[id].factory === call.owner);
      return JSON.stringify({ id: call.id, page, kind: call.kind, asked: call.asked, at_ms: world.now });
    },
    /** When the next timer is due, if by then; it is put among the tasks. */
    ring(until) {
      const due = timers.filter((one) => one.at <= until);
      const [next] = due.sort((one, other) => one.at - other.at || one.id - other.id);
      world.now = next ? Math.max(world.now, next.at) : until;
      if (!next) return false;
      timers = timers.filter((one) => one !== next);
      later(next.owner, next.run);
      return true;
    },
    answer(id, found) {
      const call = calls.find((one) => one.id === id);
      if (!call) return;
      calls = calls.filter((one) => one !== call);
      if (found === null) later(call.owner, () => call.reject(new TypeError("Failed to fetch")));
      else later(call.owner, () => call.resolve(call.kind === "fetch" ? responseOf(found) : found));
    },
    answerIn(ms, id, found) {
      const call = calls.find((one) => one.id === id);
      number += 1;
      if (call) timers.push({ id: number, at: world.now + ms, owner: call.owner, run: () => world.answer(id, found) });
    },
    timers: () => timers.map((one) => one.at - world.now).sort((one, other) => one - other),
    pages,
  };
  return world;
})();
