// What is filed on this tablet and has not arrived yet, kept in the browser's database: it outlives the page, the battery and the
// network, holds pictures too, and works on plain HTTP. Several open pages share it. Each note carries an id made here.
"use strict";

const outbox = (() => {
  const OLD_PLACE = "stillroom.note."; // Where pages kept each note before there was a database.
  const OPENING_MS = 10000;
  const CLOCK_MS = 8000;
  const LONGEST_KEPT_MS = 60 * 86400 * 1000;
  const PATIENCE_MS = 20000;
  const PATIENCE_WITH_PICTURE_MS = 130000;
  const CLAIMED_LONGER_MS = 4000;
  const ELSEWHERE_MS = 10000;
  const SLACK_MS = 2000; // Two ways to the same instant agree when they differ by no more.

  const page = newId();
  const filing = new Set(); // Ids of what this page is filing right now.
  const loose = new Map(); // Notes that the database did not take: kept only while this page stays open.
  let opening = null;
  let anchor = null;
  let busy = false;

  function newId() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  function answered(request) {
    return new Promise((resolve, reject) => {
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });
  }

  function open() {
    return new Promise((resolve, reject) => {
      const request = indexedDB.open("stillroom", 1);
      const patience = setTimeout(() => reject(new Error("the database does not open")), OPENING_MS);
      request.onupgradeneeded = () => request.result.createObjectStore("notes", { keyPath: "id" });
      request.onerror = () => reject(request.error);
      request.onsuccess = () => {
        clearTimeout(patience);
        request.result.onversionchange = () => {
          request.result.close();
          opening = null;
        };
        request.result.onclose = () => (opening = null);
        resolve(request.result);
      };
    });
  }

  // The database, or null where this browser has none to give. The next call tries again.
  async function database() {
    opening ??= new Promise((resolve, reject) => open().then(resolve, reject));
    try {
      return await opening;
    } catch {
      opening = null;
      return null;
    }
  }

  // Runs `work` on the notes in one transaction, which no other page's can cut into, and answers once it is on the disk.
  function transaction(db, mode, work) {
    return new Promise((resolve, reject) => {
      const doing = db.transaction("notes", mode, { durability: "strict" });
      let result;
      doing.oncomplete = () => resolve(result);
      doing.onabort = () => reject(doing.error ?? new Error("nothing was written"));
      work(doing.objectStore("notes")).then(
        (value) => (result = value),
        (fault) => {
          try {
            doing.abort();
          } catch {
            // It had ended by itself.
          }
          reject(fault);
        },
      );
    });
  }

  // Does `work` on the notes. Some browsers lose the database while a device sleeps, so it is opened anew before it is given up.
  async function onNotes(mode, work, otherwise, again = true) {
    const db = await database();
    if (!db) return otherwise;
    try {
      return await transaction(db, mode, work);
    } catch (fault) {
      if (!again || fault?.name === "QuotaExceededError") return otherwise;
      db.close();
      if ((await database()) === db) opening = null;
      return onNotes(mode, work, otherwise, false);
    }
  }

  // What an older page of this tablet kept elsewhere. It goes from there only when it is here.
  async function takeOver() {
    let places;
    try {
      places = Object.keys(localStorage).filter((place) => place.startsWith(OLD_PLACE));
    } catch {
      return; // This browser kept nothing there.
    }
    const old = places.map((place) => {
      try {
        return { place, note: JSON.parse(localStorage.getItem(place)) };
      } catch {
        return { place, note: null };
      }
    });
    const readable = old.filter(({ note }) => note?.id).sort((one, other) => one.note.written - other.note.written);
    for (const { place, note } of readable) {
      const written = { wall: note.written, running: null, page: null, anchor: null };
      const taken = await onNotes("readwrite", (notes) => put(notes, { ...note, written, files: [] }).then(() => true), false);
      if (taken) localStorage.removeItem(place);
    }
  }

  async function put(notes, note) {
    const all = await answered(notes.getAll());
    const before = all.find(({ id }) => id === note.id);
    const last = all.reduce((most, { order }) => Math.max(most, order), 0);
    await answered(notes.put({ ...note, order: before ? before.order : last + 1 }));
  }

  // Every note that waits, in the order of their writing.
  async function every() {
    await takeOver();
    const kept = await onNotes("readonly", (notes) => answered(notes.getAll()), []);
    return [...kept.sort((one, other) => one.order - other.order), ...loose.values()];
  }

  // Keeps a note, claimed by this page. Whether it outlives the page: where the database is missing or full it does not.
  async function add(note) {
    filing.add(note.id);
    const claimed = { ...note, claim: claimOf(note) };
    const kept = await onNotes("readwrite", (notes) => put(notes, claimed).then(() => true), false);
    if (kept) loose.delete(note.id);
    else loose.set(note.id, note);
    return kept;
  }

  function patience(note) {
    return note.files.length ? PATIENCE_WITH_PICTURE_MS : PATIENCE_MS;
  }

  function claimOf(note) {
    return { page, at: Date.now(), ms: patience(note) + CLAIMED_LONGER_MS };
  }

  // A page that died in the middle of sending holds its note only for a while, also where the clock was put back since.
  function isFree(note) {
    if (!note.claim || note.claim.page === page) return true;
    const age = Date.now() - note.claim.at;
    return age < 0 || age > note.claim.ms;
  }

  // The note, now this page's to send, or null: it has gone, another page is sending it, or what it builds on has not arrived.
  async function claim(id) {
    if (loose.has(id)) return loose.get(id);
    return onNotes(
      "readwrite",
      async (notes) => {
        const note = await answered(notes.get(id));
        if (!note || !isFree(note)) return null;
        if (note.after && (await answered(notes.get(note.after)))) return null;
        await answered(notes.put({ ...note, claim: claimOf(note) }));
        return note;
      },
      null,
    );
  }

  async function change(id, changes) {
    if ("claim" in changes) filing.delete(id);
    if (loose.has(id)) loose.set(id, { ...loose.get(id), ...changes });
    else
      await onNotes("readwrite", async (notes) => {
        const note = await answered(notes.get(id));
        if (note) await answered(notes.put({ ...note, ...changes }));
      });
  }

  async function release(id) {
    filing.delete(id);
    loose.delete(id);
    await onNotes("readwrite", (notes) => answered(notes.delete(id)));
  }

  // What this page was sending is another's to send at once when this page goes.
  function letGo() {
    onNotes("readwrite", async (notes) => {
      const own = (await answered(notes.getAll())).filter((note) => note.claim?.page === page);
      await Promise.all(own.map((note) => answered(notes.put({ ...note, claim: null }))));
    });
  }

  // Notes that were kept only in this page go into the database as soon as it has room.
  async function settleDown() {
    for (const note of loose.values()) {
      const kept = await onNotes("readwrite", (notes) => put(notes, note).then(() => true), false);
      if (kept) loose.delete(note.id);
    }
  }

  // The server's clock beside this device's two: the wall clock, which somebody may set, and the running one, which some
  // devices stop while they sleep. False without a network or where somebody else answers.
  async function measure() {
    try {
      const began = performance.now();
      const answer = await fetch("/clock", { cache: "no-store", signal: AbortSignal.timeout(CLOCK_MS) });
      const { now } = await answer.json();
      const trip = performance.now() - began;
      if (!Number.isFinite(now) || trip > CLOCK_MS) return false; // This device slept while it was asked.
      anchor = { server: now + trip / 2, wall: Date.now(), running: performance.now(), page };
      return true;
    } catch {
      return false;
    }
  }

  function writing() {
    return { wall: Date.now(), running: performance.now(), page, anchor };
  }

  // When a note was written, on the server's clock in milliseconds: `now` was measured after it, `written.anchor` before it.
  //
  // The running clock never runs ahead of the truth, so that it gives the earliest instant when counted from the anchor before,
  // and the latest when counted back from the one after. The wall clock is right unless it was set in between. Where the two
  // differ, the device slept or its clock was set; what the other side says decides.
  function writtenAt(written, now) {
    const { wall, running, anchor: before } = written;
    const latest = now.page === written.page ? now.server - (now.running - running) : now.server;
    const wallAfter = now.server - (now.wall - wall);
    if (!before) return Math.min(wallAfter, latest);
    const earliest = before.server + (running - before.running);
    const wallBefore = before.server + (wall - before.wall);
    const agrees = (instant) => Math.abs(instant - earliest) <= SLACK_MS;
    if (agrees(wallBefore) || agrees(wallAfter)) return earliest;
    const possible = (instant) => instant > earliest && instant <= latest + SLACK_MS;
    return [wallBefore, wallAfter].find(possible) ?? earliest;
  }

  // How long a note was kept, in whole seconds.
  function keptSeconds(note) {
    const since = anchor.server - writtenAt(note.written, anchor) + (performance.now() - anchor.running);
    return Math.round(Math.min(Math.max(since, 0), LONGEST_KEPT_MS) / 1000);
  }

  function bodyOf(note) {
    if (!note.files.length) return new URLSearchParams(note.fields);
    const body = new FormData();
    for (const [name, value] of note.fields) body.append(name, value);
    for (const { name, type, bytes } of note.files) body.append(name, new Blob([bytes], { type }), "picture");
    return body;
  }

  // What the server said of a note: "arrived" with the page that came back, "refused" with its sentence, "signed out",
  // "failed", or "unanswered". The server's clock must have been measured in this page.
  async function send(note) {
    const body = bodyOf(note);
    body.set("kept_s", String(keptSeconds(note)));
    let answer;
    let page;
    try {
      answer = await fetch(note.action, { method: "POST", body, signal: AbortSignal.timeout(patience(note)) });
      page = new DOMParser().parseFromString(await answer.text(), "text/html");
    } catch {
      return { state: "unanswered" };
    }
    // Only our own page after the redirect proves that the note arrived; a network's sign-in page would not.
    if (answer.ok && answer.redirected && page.getElementById("tablet-runs")) return { state: "arrived", page };
    // 408: it was too slow on the way, which the next try may not be.
    if (answer.status < 400 || answer.status === 408) return { state: "unanswered" };
    if (answer.status >= 500) return { state: "failed" };
    // 403: a member of staff has signed in on this tablet since.
    if (answer.status === 401 || answer.status === 403) return { state: "signed out" };
    const faults = [...page.querySelectorAll("#problem p, .fault")].map((fault) => fault.textContent.replace("▲", "").trim());
    return { state: "refused", sentence: faults.join(" ") || "The server did not take this note.", page };
  }

  // Sends the notes that are `due`, in the order they were written but pictures last, and tells `hear` what the server said of each.
  async function sendAll(due, hear) {
    if (busy) return;
    busy = true;
    try {
      await settleDown();
      const notes = (await every()).filter(due).sort((one, other) => Boolean(one.files.length) - Boolean(other.files.length));
      if (!notes.length || !(await measure())) return;
      const turnedAway = new Set();
      for (const { id, group } of notes) {
        if (turnedAway.has(group) || filing.has(id)) continue;
        const note = await claim(id);
        if (!note) continue; // It has gone, or another page of this tablet is sending it.
        const answer = await send(note);
        if (answer.state === "arrived") await release(id);
        else await change(id, { claim: null, sentence: answer.sentence });
        hear(note, answer);
        // A note that the server stumbles over, or that the network never carries, holds up no other; a network that is gone holds up all.
        if (answer.state === "unanswered" && !(await measure())) return;
        if (answer.state === "signed out") turnedAway.add(group);
      }
    } finally {
      busy = false;
    }
  }

  // The time to show beside a note: the server's, as far as this tablet knows it.
  function clockTime(note) {
    const { wall, running, anchor: before } = note.written;
    return new Date(before ? before.server + (running - before.running) : wall).toTimeString().slice(0, 5);
  }

  addEventListener("pagehide", letGo);

  // A tablet that shows another of its pages for an hour, such as the board, sends what waits from there.
  setInterval(() => {
    if (!document.querySelector("[data-group]")) sendAll(({ sentence }) => !sentence, () => {});
  }, ELSEWHERE_MS);

  return {
    newId, every, add, claim, change, release, measure, send, sendAll, writing, writtenAt, clockTime,
    isOpen: async () => (await database()) !== null,
    onlyHere: () => loose.size,
  };
})();
