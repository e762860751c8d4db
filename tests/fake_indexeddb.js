/**
 * IndexedDB as far as the tablet's scripts use it, for a script engine without one.
 *
 * A plain script; `fakeIndexedDB(later)` gives `Disk`, `IDBKeyRange` and `DOMException`. `later(owner, task, first)` runs
 * a task when everything the last one set off is done, as a browser's event loop does, and none of an owner (a factory)
 * that was killed. So the law that breaks most code holds here too: a transaction with nothing left to wait for is over.
 *
 * A disk outlives pages. `disk.factory()` is one page's `indexedDB`; `factory.kill()` ends that page: what it had not
 * committed is gone, and it hears of nothing any more. `disk.faults` says how the next commits or puts fail, by the
 * name of the error; `disk.room` bounds what fits, in characters; `disk.log` has each transaction that ended.
 */
function fakeIndexedDB(later) {
  class DOMException extends Error {
    constructor(message, name = "Error") {
      super(message);
      this.name = name;
    }
  }

  // --- Keys and values ---

  const rank = (key) => (typeof key === "number" ? 0 : typeof key === "string" ? 1 : Array.isArray(key) ? 2 : -1);
  function compare(one, other) {
    const ranks = rank(one) - rank(other);
    if (ranks) return ranks;
    if (!Array.isArray(one)) return one < other ? -1 : one > other ? 1 : 0;
    for (let i = 0; i < Math.min(one.length, other.length); i += 1) {
      const found = compare(one[i], other[i]);
      if (found) return found;
    }
    return one.length - other.length;
  }
  function valid(key) {
    const isKey = Array.isArray(key) ? key.every((one) => valid(one) !== null) : rank(key) >= 0 && !Number.isNaN(key);
    if (!isKey) throw new DOMException(`no key: ${String(key)}`, "DataError");
    return key;
  }
  const within = (value, path) => path.split(".").reduce((at, part) => (at == null ? undefined : at[part]), value);
  const keyOf = (value, path) => (Array.isArray(path) ? path.map((one) => within(value, one)) : within(value, path));

  function clone(value) {
    if (["function", "symbol"].includes(typeof value) || value instanceof Promise) {
      throw new DOMException("cannot be kept", "DataCloneError");
    }
    if (typeof value !== "object" || value === null) return value;
    if (Array.isArray(value)) return value.map(clone);
    if (value instanceof ArrayBuffer) return value.slice(0);
    if (ArrayBuffer.isView(value)) return value.slice();
    if (value instanceof Date) return new Date(value.getTime());
    return Object.fromEntries(Object.entries(value).map(([key, one]) => [key, clone(one)]));
  }
  function sizeOf(value) {
    if (value instanceof ArrayBuffer || ArrayBuffer.isView(value)) return value.byteLength;
    if (typeof value !== "object" || value === null) return String(value).length;
    return Object.entries(value).reduce((sum, [key, one]) => sum + key.length + sizeOf(one), 2);
  }

  class IDBKeyRange {
    constructor(lower, upper, lowerOpen, upperOpen) {
      Object.assign(this, { lower, upper, lowerOpen, upperOpen });
    }
    static only(key) { return new IDBKeyRange(valid(key), key, false, false); }
    static lowerBound(key, open = false) { return new IDBKeyRange(valid(key), undefined, open, true); }
    static upperBound(key, open = false) { return new IDBKeyRange(undefined, valid(key), true, open); }
    static bound(lower, upper, lowerOpen = false, upperOpen = false) {
      if (compare(valid(lower), valid(upper)) > 0) throw new DOMException("lower is above upper", "DataError");
      return new IDBKeyRange(lower, upper, lowerOpen, upperOpen);
    }
    includes(key) {
      const low = this.lower === undefined ? 1 : compare(key, this.lower);
      const high = this.upper === undefined ? -1 : compare(key, this.upper);
      return (this.lowerOpen ? low > 0 : low >= 0) && (this.upperOpen ? high < 0 : high <= 0);
    }
  }
  const rangeOf = (query) => (query == null ? null : query instanceof IDBKeyRange ? query : IDBKeyRange.only(query));

  // --- Rows: sorted lists of [key, value], copied before a transaction changes them ---

  const select = (rows, query) => {
    const range = rangeOf(query);
    return range === null ? rows : rows.filter(([key]) => range.includes(key));
  };
  function place(rows, key) {
    let [low, high] = [0, rows.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (compare(rows[middle][0], key) < 0) low = middle + 1; else high = middle;
    }
    return [low, low < rows.length && compare(rows[low][0], key) === 0];
  }

  // --- Requests and transactions ---

  class IDBRequest {
    constructor(source, transaction) {
      Object.assign(this, { source, transaction, readyState: "pending", onsuccess: null, onerror: null });
    }
    get result() {
      if (this.readyState === "pending") throw new DOMException("not done yet", "InvalidStateError");
      return this.found;
    }
    get error() {
      if (this.readyState === "pending") throw new DOMException("not done yet", "InvalidStateError");
      return this.failed ?? null;
    }
  }

  class IDBTransaction {
    constructor(db, names, mode, durability) {
      Object.assign(this, { db, names, mode, durability, error: null, oncomplete: null, onabort: null, onerror: null });
      this.state = "active"; // active, inactive, committing, over
      this.waiting = [];
      this.stores = null;
      db.disk.transactions.push(this);
      this.settle();
    }
    /** When control is back at the loop: no longer active; and over, if nothing is asked any more. */
    settle() {
      later(this.db.factory, () => {
        if (this.state === "over" || this.state === "committing") return;
        this.state = "inactive";
        if (this.waiting.length === 0) this.finish();
        else this.go();
      }, true);
    }
    get mayStart() {
      const before = this.db.disk.transactions.slice(0, this.db.disk.transactions.indexOf(this));
      return !before.some((one) => one.db.name === this.db.name && (one.mode !== "readonly" || this.mode !== "readonly")
        && one.names.some((name) => this.names.includes(name)));
    }
    begin() {
      this.stores ??= {};
      for (const name of this.names) this.stores[name] ??= { rows: null };
    }
    /** The rows of a store as this transaction sees them; its own copy when it changes them. */
    rows(name, toChange = false) {
      const store = this.stores[name];
      if (toChange && store.rows === null) store.rows = [...this.db.data.stores[name].rows];
      return store.rows ?? this.db.data.stores[name].rows;
    }
    ask(source, work) {
      if (this.state !== "active" || this.isClosed) throw new DOMException("over or asleep", "TransactionInactiveError");
      const request = new IDBRequest(source, this);
      this.waiting.push([request, work]);
      return request;
    }
    go() {
      if (this.isGoing || !this.mayStart) return;
      this.isGoing = true;
      later(this.db.factory, () => {
        this.isGoing = false;
        if (this.state === "over") return;
        this.begin();
        const [request, work] = this.waiting[0];
        let failed = null;
        try { request.found = work(); } catch (error) { failed = error; }
        this.waiting.shift();
        request.readyState = "done";
        this.state = "active";
        if (failed === null) request.onsuccess?.({ target: request });
        else this.fail(request, failed);
        if (this.state !== "over") this.settle();
      });
    }
    fail(request, error) {
      request.failed = error;
      let isPrevented = false;
      request.onerror?.({ target: request, preventDefault: () => { isPrevented = true; }, stopPropagation() {} });
      if (!isPrevented && this.state !== "over") this.end(error);
    }
    /** Nothing more is asked: what was asked is still done. */
    commit() {
      if (this.state !== "active" || this.isClosed) throw new DOMException("it is over", "InvalidStateError");
      this.isClosed = true;
    }
    finish() {
      if (!this.mayStart) return;
      this.state = "committing";
      later(this.db.factory, () => {
        if (this.state === "over") return;
        const error = this.whyNot();
        if (error !== null) return this.end(error);
        for (const [name, store] of this.changed()) this.db.data.stores[name].rows = store.rows;
        this.leave("complete");
        later(this.db.factory, () => this.oncomplete?.({ target: this }));
      });
    }
    whyNot() {
      const { disk } = this.db;
      if (this.changed().length === 0) return null;
      const fault = disk.faults.commits.shift();
      if (fault) return new DOMException("said to fail", fault);
      if (disk.size() + this.growth() > disk.room) return new DOMException("no room", "QuotaExceededError");
      return null;
    }
    changed() { return Object.entries(this.stores ?? {}).filter(([, store]) => store.rows); }
    growth() {
      const size = (rows) => rows.reduce((sum, [, value]) => sum + sizeOf(value), 0);
      const grown = this.changed().map(([name, store]) => size(store.rows) - size(this.db.data.stores[name].rows));
      return Math.max(grown.reduce((sum, one) => sum + one, 0), 0);
    }
    abort() {
      if (["over", "committing"].includes(this.state)) throw new DOMException("it is over", "InvalidStateError");
      this.end(null);
    }
    end(error) {
      this.error = error;
      const left = this.waiting.splice(0);
      this.undo?.();
      this.leave("abort");
      for (const [request] of left) {
        later(this.db.factory, () => {
          request.readyState = "done";
          request.failed = new DOMException("the transaction was given up", "AbortError");
          request.onerror?.({ target: request, preventDefault() {}, stopPropagation() {} });
        });
      }
      later(this.db.factory, () => this.onabort?.({ target: this }));
    }
    leave(outcome) {
      const { disk } = this.db;
      this.state = "over";
      disk.transactions = disk.transactions.filter((one) => one !== this);
      disk.log.push({ stores: this.names, mode: this.mode, durability: this.durability, outcome });
      disk.wake();
    }
    objectStore(name) {
      if (!this.names.includes(name)) throw new DOMException(`no store ${name} in this transaction`, "NotFoundError");
      if (this.state === "over") throw new DOMException("it is over", "InvalidStateError");
      return new IDBObjectStore(this, name);
    }
  }

  /** What a store and an index have in common: reading a sorted list of [key, primary key, value]. */
  class Readable {
    ask(work) { return this.transaction.ask(this, work); }
    get(query) { return this.ask(() => { const [found] = this.list(query); return found && clone(found[2]); }); }
    getKey(query) { return this.ask(() => this.list(query)[0]?.[1]); }
    getAll(query, count = Infinity) { return this.first(query, count, ([, , value]) => clone(value)); }
    getAllKeys(query, count = Infinity) { return this.first(query, count, ([, key]) => key); }
    first(query, count, part) { return this.ask(() => this.list(query).slice(0, count).map(part)); }
    count(query) { return this.ask(() => this.list(query).length); }
    openCursor(query, direction = "next") {
      let at = null;
      const step = () => {
        const rows = this.list(query);
        if (direction === "prev") rows.reverse();
        const sign = direction === "prev" ? -1 : 1;
        const isBeyond = ([key, primary]) => sign * (compare(key, at[0]) || compare(primary, at[1])) > 0;
        const found = at === null ? rows[0] : rows.find(isBeyond);
        if (!found) return null;
        at = found;
        return {
          key: found[0],
          primaryKey: found[1],
          value: clone(found[2]),
          continue: () => {
            request.readyState = "pending";
            if (this.transaction.state !== "active") throw new DOMException("asleep", "TransactionInactiveError");
            this.transaction.waiting.push([request, step]);
          },
          update: (value) => this.store.put(value),
          delete: () => this.store.delete(found[1]),
        };
      };
      const request = this.ask(step);
      return request;
    }
  }

  class IDBObjectStore extends Readable {
    constructor(transaction, name) {
      super();
      Object.assign(this, { transaction, name, store: this });
    }
    get form() { return this.transaction.db.data.stores[this.name]; }
    get keyPath() { return this.form.keyPath; }
    list(query) { return select(this.transaction.rows(this.name), query).map(([key, value]) => [key, key, value]); }
    change(work) {
      if (this.transaction.mode === "readonly") throw new DOMException("only for reading", "ReadOnlyError");
      return this.ask(() => {
        const fault = this.transaction.db.disk.faults.puts.shift();
        if (fault) throw new DOMException("said to fail", fault);
        return work(this.transaction.rows(this.name, true));
      });
    }
    write(value, given, isNew) {
      const kept = clone(value);
      const key = valid(this.keyPath === null ? given : keyOf(kept, this.keyPath));
      return this.change((rows) => {
        const [at, isThere] = place(rows, key);
        if (isThere && isNew) throw new DOMException("there already", "ConstraintError");
        for (const [name, { keyPath, unique }] of Object.entries(this.form.indexes)) {
          const mine = keyOf(kept, keyPath);
          const isMine = (value) => rank(keyOf(value, keyPath)) >= 0 && compare(keyOf(value, keyPath), mine) === 0;
          if (unique && mine !== undefined && rows.some(([other, one]) => compare(other, key) && isMine(one))) {
            throw new DOMException(`index ${name} has it already`, "ConstraintError");
          }
        }
        rows.splice(at, isThere ? 1 : 0, [key, kept]);
        return key;
      });
    }
    put(value, key) { return this.write(value, key, false); }
    add(value, key) { return this.write(value, key, true); }
    delete(query) {
      const range = rangeOf(query);
      return this.change((rows) => {
        rows.splice(0, rows.length, ...rows.filter(([key]) => !range.includes(key)));
      });
    }
    clear() { return this.change((rows) => { rows.splice(0); }); }
    createIndex(name, keyPath, { unique = false } = {}) {
      if (this.transaction.mode !== "versionchange") throw new DOMException("not now", "InvalidStateError");
      this.form.indexes[name] = { keyPath, unique };
      return this.index(name);
    }
    index(name) {
      if (!this.form.indexes[name]) throw new DOMException(`no index ${name}`, "NotFoundError");
      return new IDBIndex(this, name);
    }
  }

  class IDBIndex extends Readable {
    constructor(store, name) {
      super();
      Object.assign(this, { store, name, transaction: store.transaction });
    }
    list(query) {
      const { keyPath } = this.store.form.indexes[this.name];
      const rows = this.transaction.rows(this.store.name)
        .map(([primary, value]) => [keyOf(value, keyPath), primary, value])
        .filter(([key]) => rank(key) >= 0)
        .sort((one, other) => compare(one[0], other[0]) || compare(one[1], other[1]));
      return select(rows, query);
    }
  }

  class IDBDatabase {
    constructor(factory, name, data) {
      Object.assign(this, { factory, name, data, disk: factory.disk, isClosed: false, onversionchange: null });
    }
    get version() { return this.data.version; }
    get objectStoreNames() { return Object.keys(this.data.stores).sort(); }
    transaction(stores, mode = "readonly", { durability = "default" } = {}) {
      if (this.isClosed) throw new DOMException("the connection is closed", "InvalidStateError");
      const names = [stores].flat();
      const missing = names.find((one) => !this.data.stores[one]);
      if (missing !== undefined) throw new DOMException(`no store ${missing}`, "NotFoundError");
      return new IDBTransaction(this, names, mode, durability);
    }
    createObjectStore(name, { keyPath = null } = {}) {
      if (!this.upgrade || this.upgrade.state === "over") throw new DOMException("not now", "InvalidStateError");
      if (this.data.stores[name]) throw new DOMException(`${name} is there`, "ConstraintError");
      this.data.stores[name] = { keyPath, indexes: {}, rows: [] };
      this.upgrade.names.push(name);
      this.upgrade.begin();
      return this.upgrade.objectStore(name);
    }
    deleteObjectStore(name) {
      delete this.data.stores[name];
      delete this.upgrade.stores[name];
      this.upgrade.names = this.upgrade.names.filter((one) => one !== name);
    }
    close() {
      this.isClosed = true;
      this.disk.wake();
    }
  }

  // --- Disks and pages ---

  class Disk {
    constructor(kept = {}) {
      this.restore(kept);
      Object.assign(this, { transactions: [], connections: [], opening: [], log: [], room: Infinity });
      this.faults = { commits: [], puts: [] };
    }
    /** Everything on it, in a plain form that can be written as JSON. */
    snapshot() { return clone(this.databases); }
    restore(kept) { this.databases = clone(kept); }
    size() {
      const stores = Object.values(this.databases).flatMap((one) => Object.values(one.stores));
      return stores.flatMap((store) => store.rows).reduce((sum, [, value]) => sum + sizeOf(value), 0);
    }
    factory() { return new IDBFactory(this); }
    isBusy(db) { return this.transactions.some((one) => one.db === db); }
    /** Something ended: who waited for it may go on. */
    wake() {
      for (const one of this.transactions) {
        if (one.state === "inactive" && one.waiting.length) one.go();
        else if (one.state === "inactive") one.finish();
      }
      this.connections = this.connections.filter((db) => !db.isClosed || this.isBusy(db));
      for (const one of [...this.opening]) one();
    }
  }

  class IDBFactory {
    constructor(disk) {
      Object.assign(this, { disk, isKilled: false });
    }
    open(name, version) {
      return this.ask(name, (request, isLate) => {
        const data = this.disk.databases[name] ?? { version: 0, stores: {} };
        const wanted = version ?? (data.version || 1);
        if (wanted < data.version) return this.refuse(request, new DOMException("it is newer", "VersionError"));
        if (wanted > data.version && !this.alone(name, request, wanted, isLate)) return false;
        this.connect(request, name, data, wanted);
        return true;
      });
    }
    deleteDatabase(name) {
      return this.ask(name, (request, isLate) => {
        if (!this.alone(name, request, null, isLate)) return false;
        delete this.disk.databases[name];
        this.give(request, undefined);
        return true;
      });
    }
    ask(name, work) {
      const request = new IDBRequest(null, null);
      let isLate = false;
      const attempt = () => {
        const isDone = this.isKilled || work(request, isLate);
        isLate = true;
        this.disk.opening = this.disk.opening.filter((one) => one !== again);
        if (!isDone) this.disk.opening.push(again);
      };
      const again = () => later(this, () => {
        if (request.readyState === "pending" && this.disk.opening.includes(again)) attempt();
      });
      later(this, attempt);
      return request;
    }
    /** Whether no other connection is left; each is told once, and who opens is told when one stays. */
    alone(name, request, version, isLate) {
      const isOpen = (db) => db.name === name && (!db.isClosed || this.disk.isBusy(db));
      const others = () => this.disk.connections.filter(isOpen);
      if (!isLate) {
        for (const db of others()) {
          later(db.factory, () => {
            if (!db.isClosed) db.onversionchange?.({ oldVersion: db.version, newVersion: version });
          });
        }
        if (others().length === 0) return true;
        later(this, () => { if (others().length) request.onblocked?.({ target: request }); });
        return false;
      }
      return others().length === 0;
    }
    connect(request, name, data, version) {
      const before = clone(data);
      const db = new IDBDatabase(this, name, data);
      this.disk.databases[name] = data;
      this.disk.connections.push(db);
      if (version === data.version) return this.give(request, db);
      const oldVersion = data.version;
      data.version = version;
      const upgrade = new IDBTransaction(db, Object.keys(data.stores), "versionchange", "default");
      db.upgrade = upgrade;
      upgrade.undo = () => {
        if (oldVersion) this.disk.databases[name] = before; else delete this.disk.databases[name];
        db.isClosed = true;
      };
      request.transaction = upgrade;
      request.readyState = "done";
      request.found = db;
      later(this, () => {
        upgrade.state = "active";
        upgrade.begin();
        try {
          request.onupgradeneeded?.({ target: request, oldVersion, newVersion: version });
        } catch (error) {
          upgrade.end(new DOMException(String(error), "AbortError"));
        }
        if (upgrade.state !== "over") upgrade.settle();
      }, true);
      upgrade.oncomplete = () => this.give(request, db);
      upgrade.onabort = () => this.refuse(request, new DOMException("the upgrade was given up", "AbortError"));
      return undefined;
    }
    give(request, found) {
      later(this, () => {
        Object.assign(request, { readyState: "done", found, transaction: null });
        request.onsuccess?.({ target: request });
      });
    }
    refuse(request, failed) {
      later(this, () => {
        Object.assign(request, { readyState: "done", failed, transaction: null });
        request.onerror?.({ target: request, preventDefault() {} });
      });
      return true;
    }
    kill() {
      this.isKilled = true;
      const mine = this.disk.transactions.filter((one) => one.db.factory === this);
      for (const one of mine) {
        one.state = "over";
        one.undo?.();
      }
      for (const db of this.disk.connections) if (db.factory === this) db.isClosed = true;
      this.disk.transactions = this.disk.transactions.filter((one) => !mine.includes(one));
      this.disk.wake();
    }
  }

  return { Disk, IDBKeyRange, DOMException };
}
