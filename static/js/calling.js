// A called class, counted on the device itself: the same rules as the server's core, on what it told. The two are held
// against each other by a test that gives both the same classes at random. Pure: no clock, no page, no network.
// Instants are milliseconds from the class's second 0.
"use strict";

// When visits begin and end, from when some of them were called. `visits` stand plate by plate in the order of time.
class Times {
  constructor(visits, called) {
    this.visits = visits;
    this.index = new Map(visits.map((visit, index) => [visit.key, index]));
    this.starts = new Map();
    for (const [key, at] of Object.entries(called)) if (this.index.has(key)) this.begin(key, at);
  }

  following(index) {
    const next = this.visits[index + 1];
    return next && next.plate === this.visits[index].plate ? next : undefined;
  }

  // A visit begins, and with it all that is counted from it.
  begin(key, at) {
    let index = this.index.get(key);
    for (;;) {
      this.starts.set(this.visits[index].key, at);
      at += this.visits[index].lasts;
      if (!this.following(index)?.counted) return;
      index += 1;
    }
  }

  // When a visit that has begun ends: null while its end waits for the call of the next step.
  end(index) {
    const visit = this.visits[index];
    if (visit.waits) return this.starts.get(this.following(index).key) ?? null;
    return this.starts.get(visit.key) + visit.lasts;
  }

  stays() {
    return this.visits.flatMap((visit, index) =>
      this.starts.has(visit.key) ? [{ visit, starts: this.starts.get(visit.key), ends: this.end(index) }] : [],
    );
  }

  // Not before every step in front of a cue has had its time, and for light not while a plate is open.
  soonest(cue, due) {
    for (const key of cue.begins) {
      const index = this.index.get(key);
      const before = this.visits[index - 1];
      if (before && before.plate === this.visits[index].plate && this.starts.has(before.key))
        due = Math.max(due, this.starts.get(before.key) + before.lasts);
    }
    if (cue.light === "allowed")
      for (const stay of this.stays()) if (stay.visit.dark && stay.ends !== null) due = Math.max(due, stay.ends);
    return due;
  }
}

const LIGHT_CALLS = { off: { kind: "lights off", words: "lights off" }, allowed: { kind: "lights allowed", words: "lights allowed" } };
const CALL_ORDER = ["lights off", "shutter closed", "move again", "lights allowed", "hold still", "step", "shutter open"];

// The cues that wait for their caller, in order. Lights are called only where they are not yet as they are to be.
function pending(told, standing) {
  const dark = new Set(told.visits.filter((visit) => visit.dark).map((visit) => visit.key));
  let lit = standing.lit;
  const found = [];
  for (const cue of told.cues) {
    const left = cue.begins.filter((key) => !(key in standing.fired));
    const passed = standing.base_s !== null && cue.at < standing.base_s;
    if (!left.length && (cue.begins.length || passed || cue.light === (lit ? "allowed" : "off"))) continue;
    const light = left.some((key) => dark.has(key)) ? "off" : cue.light;
    found.push(asItStands(cue, left, light && lit !== (light === "allowed") ? light : ""));
    if (light) lit = light === "allowed";
  }
  return found;
}

// The cue without what was called of it already, and with the lights it really changes.
function asItStands(cue, left, light) {
  const calls = light ? [{ ...LIGHT_CALLS[light], movers: [] }] : [];
  for (const call of cue.calls) {
    const movers = call.movers.filter(([key]) => left.includes(key));
    if (!call.kind.startsWith("lights ") && (movers.length || !call.movers.length)) calls.push({ ...call, movers });
  }
  calls.sort((one, other) => CALL_ORDER.indexOf(one.kind) - CALL_ORDER.indexOf(other.kind));
  return { ...cue, key: left.length ? left[0] : cue.key, begins: left, light, calls };
}

function cueWords(cue) {
  const said = [...new Set(cue.calls.map((call) => call.words))].join(", ");
  return said.slice(0, 1).toUpperCase() + said.slice(1);
}

function keysOf(cue) {
  return cue.begins.length ? cue.begins : [cue.key];
}

function periodOf(told, second) {
  const index = told.periods.findIndex(([, closes]) => closes >= second);
  return index < 0 ? told.periods.length - 1 : index;
}

// When each cue ahead is due. With `now` (or null), what is overdue holds up all behind it.
function foreseen(told, standing, now) {
  const times = new Times(told.visits, standing.fired);
  const ahead = [];
  let second = standing.base_s;
  let at = standing.base;
  if (now !== null && standing.held !== null) at += Math.max(0, now - standing.held);
  for (const cue of pending(told, standing)) {
    let due;
    if (second === null) due = cue.at * 1000 + at;
    else if (periodOf(told, second) === periodOf(told, cue.at)) due = at + (cue.at - second) * 1000;
    else due = Math.max(at, cue.at * 1000);
    due = times.soonest(cue, due);
    ahead.push({ cue, due });
    second = cue.at;
    at = now === null ? due : Math.max(due, now);
    for (const key of cue.begins) times.begin(key, at);
  }
  return ahead;
}

// The standing after a cue was called; whoever begins a dark step has the lights off.
function begun(told, standing, cue, keys, at) {
  const begins = new Set(keys);
  const dark = told.visits.some((visit) => visit.dark && begins.has(visit.key));
  return {
    ...standing,
    mode: "running",
    since: standing.mode === "by the plan" ? at : standing.since,
    fired: { ...standing.fired, ...Object.fromEntries(keys.map((key) => [key, at])) },
    base_s: cue.at,
    base: at,
    lit: cue.light === "allowed" || (standing.lit && cue.light !== "off" && !dark),
  };
}

// The standing after every cue due by `until` was called when it was due, though not before `notBefore` (or null).
function byItself(told, standing, until, notBefore) {
  if (standing.held !== null) return standing;
  const { mode } = standing;
  let after = standing;
  for (const { cue, due } of foreseen(told, standing, notBefore)) {
    const at = notBefore === null ? due : Math.max(due, notBefore);
    if (at > until) break;
    after = begun(told, after, cue, keysOf(cue), at);
  }
  return { ...after, mode };
}

function openPlates(told, standing, at) {
  return new Times(told.visits, standing.fired).stays().filter(({ visit, ends }) => visit.dark && (ends === null || ends > at));
}

// The standing after what was said on this device, or null where it answers nothing. What only the server can work out (a repeat,
// a round left out, catching up) leaves it as it is until the server has told it.
function follow(told, standing, event) {
  const held = standing.held !== null;
  const letGo = () => ({ ...standing, mode: "running", since: event.at, base: standing.base + event.at - standing.held, held: null });
  const byThen = standing.mode === "by the plan" ? byItself(told, standing, event.at, null) : standing;
  if (event.kind === "called") {
    const cue = pending(told, standing)[0];
    if (held || !cue || cue.key !== event.answers) return null;
    if (cue.light === "allowed" && openPlates(told, standing, event.at).length) return null;
    return begun(told, standing, cue, keysOf(cue), event.at);
  }
  if (event.kind === "paused") return held ? null : { ...byThen, mode: "paused", since: event.at, held: event.at };
  if (event.kind === "resumed") return standing.mode === "paused" ? letGo() : null;
  if (event.kind === "stopped") return { ...byThen, mode: "stopped", since: event.at, held: byThen.held ?? event.at };
  if (event.kind === "clear") return standing.mode === "stopped" ? { ...standing, mode: "clear", since: event.at } : null;
  if (event.kind === "taken up") return standing.mode === "clear" ? letGo() : null;
  return standing;
}

// What was told, with what this device said since and the server has not told yet. `undo` is the event that may be taken back, if any.
function withOwn(told, events) {
  const history = told.undo?.standing ? [{ standing: told.undo.standing, id: "" }] : [];
  history.push({ standing: told.standing, id: told.undo?.id ?? "", words: told.undo?.words ?? "" });
  for (const event of events) {
    const last = history.at(-1);
    if (event.kind === "undone") {
      if (!last.id || last.id !== event.answers) continue;
      if (history.length > 1) history.pop();
      else last.id = ""; // What it would be then only the server can work out.
      continue;
    }
    const standing = follow(told, last.standing, event);
    if (!standing) continue;
    const lasting = event.kind === "stopped" || event.kind === "clear";
    history.push({ standing, id: lasting ? "" : event.id, words: event.words });
  }
  const last = history.at(-1);
  return { standing: last.standing, undo: last.id ? { id: last.id, words: last.words } : null };
}

// What goes on at `now`. A class that nobody calls goes by its plan; so does one on a device that is alone since `aloneSince` (or null).
function situation(told, standing, now, aloneSince) {
  if (standing.mode === "by the plan") standing = byItself(told, standing, now, null);
  else if (aloneSince !== null) standing = byItself(told, standing, now, aloneSince);
  const ahead = foreseen(told, standing, now);
  const stays = new Times(told.visits, standing.fired).stays();
  const goingOn = stays
    .filter((stay) => stay.starts <= now && (stay.ends === null || now < stay.ends))
    .sort((one, other) => (one.visit.key < other.visit.key ? -1 : 1));
  const stopped = standing.mode === "stopped" || standing.mode === "clear";
  const isDark = !standing.lit || goingOn.some((stay) => stay.visit.dark);
  const isStill = goingOn.some((stay) => stay.visit.still);
  const counting = stays.flatMap((stay) => {
    const found = [];
    if (stay.starts > now && !(stay.visit.key in standing.fired)) found.push({ at: stay.starts, kind: "step", visit: stay.visit });
    if (stay.visit.shutter && stay.starts <= now && now < stay.ends) found.push({ at: stay.ends, kind: "shutter closed", visit: stay.visit });
    return found;
  });
  const has = (visit) => stays.some((stay) => stay.visit === visit && stay.starts <= now);
  const dark = told.visits.filter((visit) => visit.dark);
  const out = new Set(dark.filter(has).map((visit) => visit.plate));
  const covered = [...new Set(dark.filter((visit) => out.has(visit.plate) && !has(visit)).map((visit) => visit.name))].sort();
  counting.sort((one, other) => one.at - other.at || (one.visit.key < other.visit.key ? -1 : 1) || (one.kind < other.kind ? -1 : 1));
  return {
    mode: standing.mode,
    room: stopped ? "Lights allowed" : isStill ? "Hold still" : isDark ? "Dark" : "Lights allowed",
    isDark: isDark && !stopped,
    ahead,
    goingOn,
    counting,
    covered,
    stays,
    isOver: !ahead.length && stays.every((stay) => stay.ends !== null && stay.ends <= now),
    late: ahead.length ? Math.max(ahead[0].due, now) - ahead[0].cue.at * 1000 : standing.base_s === null ? 0 : standing.base - standing.base_s * 1000,
  };
}
