// The board on a wall, a tablet or a wrist: counts by itself from what the server told last, hears of every cue at once, says when
// it is alone, and sounds. Works on plain HTTP, and after being loaded again without a network.
"use strict";

const board = document.getElementById("board-now");
const KEPT = `stillroom.board.${board.dataset.rotation}`;
const CLOCK_KEPT = "stillroom.clock";
const SOUND_KEPT = "stillroom.sound";
const ALONE_AFTER_MS = 5000;
const SHOW_EVERY_MS = 100;
const OVERTAKEN_MS = 5000;
const SAMPLES_KEPT_MS = 10 * 60 * 1000;

function kept(place) {
  try {
    return JSON.parse(localStorage.getItem(place));
  } catch {
    return null; // This browser keeps nothing, so nothing is kept.
  }
}

function keep(place, what) {
  try {
    localStorage.setItem(place, JSON.stringify(what));
  } catch {
    // It counts on all the same, until it is loaded again.
  }
}

// The server's clock, measured on this device: of several samples the one that was answered soonest errs least.
const clock = {
  samples: [],
  offset: kept(CLOCK_KEPT) ?? 0,
  last: { wall: Date.now(), running: performance.now() },

  now() {
    return Date.now() + this.offset;
  },

  async sample() {
    const sent = Date.now();
    const began = performance.now();
    const answer = await fetch("/clock", { cache: "no-store", signal: AbortSignal.timeout(4000) });
    const { now } = await answer.json();
    const trip = performance.now() - began;
    this.samples.push({ trip, at: sent, offset: now - (sent + trip / 2) });
    this.samples = this.samples.filter(({ at }) => Math.abs(Date.now() - at) < SAMPLES_KEPT_MS);
    this.offset = this.samples.reduce((best, one) => (one.trip < best.trip ? one : best)).offset;
    keep(CLOCK_KEPT, this.offset);
  },

  async measure(times) {
    for (let number = 0; number < times; number += 1) {
      try {
        await this.sample();
      } catch {
        return; // There is no network; the next try may find one.
      }
    }
  },

  // Somebody who sets this device's clock back moves nothing here. A clock that jumps ahead may come from sleep, in which the time
  // did pass: until the server is asked again it is believed.
  mind() {
    const wall = Date.now();
    const running = performance.now();
    const jump = wall - this.last.wall - (running - this.last.running);
    this.last = { wall, running };
    if (Math.abs(jump) < 1000) return;
    if (jump < 0) this.offset -= jump;
    this.samples = [];
    keep(CLOCK_KEPT, this.offset);
    this.measure(5);
  },
};

// What was told last: by the page itself, or, if that came from where the browser keeps it, by what this device has kept.
let told = newest(JSON.parse(board.dataset.told), kept(KEPT));
let coming = null;
let heard = performance.now();
let aloneSince = null;
let source = null;
let trouble = "";

function newest(one, other) {
  return other && other.made > one.made ? other : one;
}

function hear(news) {
  heard = performance.now();
  aloneSince = null;
  trouble = "";
  // What was on its way when this device was answered is older than the answer.
  const older = news && told.made - news.made;
  if (!news || (older > 0 && older < OVERTAKEN_MS)) return;
  told = { ...told, ...news };
  keep(KEPT, told);
  show();
}

function listen() {
  source?.close();
  source = new EventSource(board.dataset.feed);
  source.addEventListener("plan", (event) => {
    coming = JSON.parse(event.data);
  });
  source.addEventListener("now", (event) => {
    hear({ ...coming, ...JSON.parse(event.data) });
    coming = null;
  });
  source.addEventListener("beat", () => hear(null));
  source.addEventListener("error", lost);
}

// A browser does not listen again by itself once it was turned away.
async function lost() {
  if (source.readyState !== EventSource.CLOSED) return;
  try {
    const answer = await fetch(board.dataset.feed, { cache: "no-store", signal: AbortSignal.timeout(4000) });
    if (answer.status === 401 || answer.status === 403) trouble = "This device's sign-in has ended.";
    else if (answer.status < 500) trouble = answer.ok ? "" : "This class has no board any more.";
  } catch {
    // There is no network; the next try may find one.
  }
  setTimeout(listen, 2000);
}

function wake() {
  if (document.visibilityState === "hidden") return;
  clock.measure(5);
  if (performance.now() - heard > 3000) listen();
}

// What is shown is worked out anew each time from what was told, and written where it differs.
const shown = {};

function write(id, words) {
  if (shown[id] === words) return;
  shown[id] = words;
  const place = document.getElementById(id);
  if (!place) return;
  place.textContent = words;
  place.hidden = !words;
}

function writeLines(id, lines) {
  const signature = JSON.stringify(lines);
  if (shown[id] === signature) return;
  shown[id] = signature;
  const place = document.getElementById(id);
  if (!place) return;
  place.closest("section")?.toggleAttribute("hidden", !lines.length);
  place.replaceChildren(
    ...lines.map(([group, what, where, own]) => {
      const line = document.createElement("li");
      const name = document.createElement("b");
      const at = document.createElement("span");
      name.textContent = group;
      at.textContent = where;
      line.append(name, ` ${what} `, at);
      line.classList.toggle("own", own);
      return line;
    }),
  );
}

function minutes(ms) {
  const seconds = Math.ceil(ms / 1000);
  const hours = Math.floor(seconds / 3600);
  const rest = `${Math.floor((seconds % 3600) / 60)}`;
  const last = String(seconds % 60).padStart(2, "0");
  return hours ? `${hours}:${rest.padStart(2, "0")}:${last}` : `${rest}:${last}`;
}

function wallClock(ms, exact) {
  const time = new Date(ms + told.wall).toISOString();
  return exact && !time.startsWith("00", 17) ? time.slice(11, 19) : time.slice(11, 16);
}

function standingNow() {
  return { standing: told.standing, undo: told.undo };
}

// Replaced by the caller's control, which adds what it said itself and is never carried on by the plan.
let stands = standingNow;
let followsThePlanAlone = true;

function asideWords(here) {
  if (here.mode === "stopped") return "Lights on, shutters closed, stay where you are.";
  if (here.mode === "clear") return "Lights stay on until the class is taken up again.";
  if (here.mode === "paused") return `Paused for ${minutes(clock.now() - told.zero - stands().standing.since)}: nothing is called, and the room stays as it is.`;
  if (here.isOver) return "The class is over.";
  if (here.isDark) return here.room === "Dark" ? "" : "In the dark.";
  return here.covered.length ? `Plates stay covered: ${here.covered.join(", ")}.` : "";
}

function aloneWords() {
  if (trouble) return `▲ ${trouble}`;
  if (aloneSince === null) return "";
  const since = minutes(clock.now() - told.zero - aloneSince);
  const way = followsThePlanAlone ? "It goes on by the plan from what it heard last" : "What you call is kept here and sent when the network is back";
  return `▲ Alone: no word from the server for ${since}. ${way}.`;
}

function planWords(here) {
  if (here.mode === "by the plan" && !here.isOver) return "By the plan: nobody calls it yet.";
  const late = Math.round(here.late / 1000);
  if (here.isOver || Math.abs(late) < 5 || Math.abs(late) > 36000) return "";
  return `${minutes(Math.abs(late) * 1000)} ${late > 0 ? "behind" : "ahead of"} the plan.`;
}

function nextWords(next, now) {
  if (!next) return ["", ""];
  const words = cueWords(next.cue);
  if (next.due <= now) return ["now", `${words} ${now - next.due < 2000 ? "" : `is ${minutes(now - next.due)} overdue and waits for the caller`}`];
  return [minutes(next.due - now), `then ${words}, at ${wallClock(told.zero + next.due, true)}`];
}

function moverLines(next) {
  return (next?.cue.calls ?? []).flatMap((call) =>
    call.movers.map(([, group, place, seconds]) => [group, seconds ? `${call.words}, ${seconds} s` : call.words, place, isOwn(group)]),
  );
}

function isOwn(group) {
  const own = board.dataset.own;
  return own !== "" && (group === own || group === `${own} again`);
}

// The next thing that this tablet's own group does: called or counted, whichever is first.
function ownWords(here, now) {
  if (!board.dataset.own) return "";
  const called = here.ahead.flatMap(({ cue, due }) =>
    cue.calls.flatMap((call) => call.movers.filter(([, group]) => isOwn(group)).map(([, , place]) => ({ at: due, words: call.words, place }))),
  );
  const counted = here.counting
    .filter(({ visit }) => isOwn(visit.name))
    .map(({ at, kind, visit }) => ({ at, words: kind === "step" ? visit.step : kind, place: visit.place }));
  const [first] = [...called, ...counted].sort((one, other) => one.at - other.at);
  if (!first) return `${board.dataset.own}: nothing more to do.`;
  const when = first.at <= now ? "now" : `in ${minutes(first.at - now)}`;
  return `${board.dataset.own}: ${first.words}, ${first.place}, ${when}`;
}

function countWords(here, now) {
  const open = here.counting.filter(({ kind }) => kind === "shutter closed");
  if (open.length) {
    const places = open.map(({ visit }) => visit.place).join(", ");
    return `Shutter open ${Math.floor((now - here.stays.find(({ visit }) => visit === open[0].visit).starts) / 1000)} · ${places} · closes in ${minutes(open[0].at - now)}`;
  }
  return here.counting.length ? `${here.counting[0].visit.name} ${here.counting[0].visit.step} in ${minutes(here.counting[0].at - now)}` : "";
}

// Where plates see every colour, the board shows itself only in a room that is lit; alone, or before this device has measured the
// server's clock, nobody knows whether it is.
function shownColour(here) {
  const known = clock.samples.length > 0 && aloneSince === null;
  return told.colour === "none" && known && !here.isDark ? "green" : told.colour;
}

function show() {
  clock.mind();
  const now = clock.now() - told.zero;
  const silence = performance.now() - heard;
  if (aloneSince === null && silence > ALONE_AFTER_MS) aloneSince = now - silence;
  const { standing } = stands();
  const here = situation(told, standing, now, followsThePlanAlone ? aloneSince : null);
  const next = here.ahead[0];
  const colour = shownColour(here);
  if (document.documentElement.dataset.light !== colour) document.documentElement.dataset.light = colour;
  write("title", told.title);
  write("clock", wallClock(clock.now(), false));
  write("state", { stopped: "LIGHTS", clear: "All clear" }[here.mode] ?? here.room);
  write("aside", asideWords(here));
  write("alone", aloneWords());
  write("by-plan", planWords(here));
  const [countdown, words] = nextWords(here.mode === "stopped" || here.mode === "clear" ? null : next, now);
  write("countdown", countdown);
  write("next-words", words);
  write("own", ownWords(here, now));
  write("count", countWords(here, now));
  write("last", told.said ? `Last: ${told.said.words}, ${wallClock(told.said.at, true)}` : "");
  writeLines("moves", moverLines(next));
  writeLines("going-on", here.goingOn.map(({ visit }) => [visit.name, visit.step, visit.place, isOwn(visit.name)]));
  writeLines("dangers", told.dangers.map((danger) => ["▲", danger, "", false]));
  document.getElementById("replan")?.setAttribute("href", told.replan);
  sounds.follow(here, next, now);
  document.dispatchEvent(new CustomEvent("shown", { detail: { here, now } }));
}

// A sound for every cue, and what it says stands on the screen as well. Browsers stay silent until somebody taps.
const TONES = {
  "lights off": [[660, 0.25], [440, 0.25], [330, 0.4]],
  "lights allowed": [[523, 0.2], [659, 0.2], [784, 0.5]],
  "hold still": [[220, 0.9]],
  "move again": [[587, 0.12], [0, 0.06], [587, 0.12]],
  "shutter open": [[880, 0.5]],
  "shutter closed": [[294, 0.5]],
  step: [[494, 0.18]],
  paused: [[392, 0.15], [330, 0.3]],
  stopped: [[988, 0.3], [740, 0.3], [988, 0.3], [740, 0.3], [988, 0.3], [740, 0.3]],
  clear: [[523, 0.25], [659, 0.25], [784, 0.25], [1047, 0.6]],
  tick: [[1200, 0.03]],
};
const SHAKES = { step: [120], "hold still": [500], "shutter open": [250, 80, 250], "shutter closed": [250], stopped: [600, 150, 600, 150, 600], tick: [20] };
const LOUDEST = 5;

const sounds = {
  context: null,
  level: kept(SOUND_KEPT) ?? 3,
  was: null,
  count: null,

  start() {
    this.context ??= new AudioContext();
    this.context.resume();
    this.tell();
  },

  get on() {
    return this.context !== null && this.context.state === "running";
  },

  tell() {
    const how = this.on ? `Sound is on, loudness ${this.level} of ${LOUDEST}.` : "Sound is off: tap “Sound” once to start it.";
    write("sound-state", how);
  },

  louder(by) {
    this.level = Math.min(LOUDEST, Math.max(0, this.level + by));
    keep(SOUND_KEPT, this.level);
    this.start();
    this.play(["step"]);
  },

  // One after the other; the last of them stays named on the page, for whoever cannot hear and for whoever asks later.
  play(names) {
    if (!names.length) return;
    board.dataset.sounded = names.at(-1);
    if (this.context) navigator.vibrate?.(SHAKES[names[0]] ?? [120]);
    if (!this.on || !this.level) return;
    let at = this.context.currentTime + 0.01;
    for (const name of names) {
      for (const [pitch, lasts] of TONES[name]) {
        if (pitch) this.tone(pitch, at, lasts);
        at += lasts;
      }
      at += 0.08;
    }
  },

  tone(pitch, at, lasts) {
    const voice = this.context.createOscillator();
    const loudness = this.context.createGain();
    voice.frequency.value = pitch;
    loudness.gain.setValueAtTime(0, at);
    loudness.gain.linearRampToValueAtTime(0.5 * (this.level / LOUDEST) ** 2, at + 0.01);
    loudness.gain.setValueAtTime(0.5 * (this.level / LOUDEST) ** 2, at + lasts - 0.01);
    loudness.gain.linearRampToValueAtTime(0, at + lasts);
    voice.connect(loudness).connect(this.context.destination);
    voice.start(at);
    voice.stop(at + lasts);
  },

  // What has come since the last look, by what it is: steps that began, shutters that closed, and the room that changed.
  follow(here, next, now) {
    const begun = new Set(here.stays.filter(({ starts }) => starts <= now).map(({ visit }) => visit.key));
    const closed = new Set(here.stays.filter(({ visit, ends }) => visit.shutter && ends <= now).map(({ visit }) => visit.key));
    const is = { begun, closed, room: here.room, dark: here.isDark, mode: here.mode, at: now };
    const was = this.was;
    this.was = is;
    // After sleep or a long silence nothing of what is past is sounded.
    if (was && now - was.at < 3000 && now >= was.at) this.play(this.since(was, is, here));
    this.tick(here, next, now);
  },

  since(was, is, here) {
    if (is.mode !== was.mode && ["stopped", "clear", "paused"].includes(is.mode)) return [is.mode];
    const fresh = here.stays.filter(({ visit }) => is.begun.has(visit.key) && !was.begun.has(visit.key));
    const names = [];
    if (is.dark && !was.dark) names.push("lights off");
    if (is.closed.size > was.closed.size) names.push("shutter closed");
    if (was.room === "Hold still" && is.room !== "Hold still") names.push("move again");
    if (was.dark && !is.dark && is.mode !== "stopped") names.push("lights allowed");
    if (is.room === "Hold still" && was.room !== "Hold still") names.push("hold still");
    if (fresh.some(({ visit }) => visit.shutter)) names.push("shutter open");
    if (fresh.length && !names.length) names.push("step");
    return names;
  },

  // A tick each second while a shutter is open, and in the last five before a cue.
  tick(here, next, now) {
    const open = here.counting.find(({ kind }) => kind === "shutter closed");
    const left = next && here.mode !== "stopped" && here.mode !== "clear" && here.mode !== "paused" ? next.due - now : -1;
    const count = open ? Math.ceil((open.at - now) / 1000) : left > 0 && left <= 5000 ? Math.ceil(left / 1000) : null;
    if (count !== null && count !== this.count) this.play(["tick"]);
    this.count = count;
  },
};

document.addEventListener("click", (event) => {
  const pressed = event.target.closest("[data-sound]")?.dataset.sound;
  if (pressed === "on") sounds.louder(0);
  if (pressed === "louder") sounds.louder(1);
  if (pressed === "quieter") sounds.louder(-1);
  if (pressed === "test") {
    sounds.start();
    sounds.play(["tick", "hold still", "shutter open", "shutter closed", "clear"]);
  }
});

// Loading again by key goes to where the browser keeps the page, for asking the server shows a white page when there is no network.
document.addEventListener("keydown", (event) => {
  if (event.key !== "F5" && !(event.key === "r" && (event.ctrlKey || event.metaKey))) return;
  event.preventDefault();
  location.replace(location.href);
});

addEventListener("online", wake);
addEventListener("pageshow", (event) => event.persisted && wake());
document.addEventListener("visibilitychange", wake);

sounds.tell();
show();
listen();
clock.measure(5);
setInterval(() => clock.measure(3), 60000);
setInterval(show, SHOW_EVERY_MS);
