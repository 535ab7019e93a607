// The caller's control: one press advances the class at once on this device, and stays kept here until the server has it. Each
// press carries an id made here and names the cue it answers, so that it counts once and never for another cue.
"use strict";

const caller = document.getElementById("caller");
const QUEUE_KEPT = `stillroom.call.${board.dataset.rotation}.`;
const TWICE_MS = 700;
const SEND_AGAIN_MS = 2000;
// Shorter than what the board takes for overtaken: an answer that was so long on its way must not undo what was told meanwhile.
const ANSWERED_MS = 4000;
const LONGEST_KEPT_MS = 12 * 3600 * 1000;
const ADVANCE = ["Space", "Enter", "NumpadEnter", "PageDown", "ArrowRight", "ArrowDown"];
const BACK = ["Backspace", "PageUp", "ArrowLeft", "ArrowUp"];

// Each event has a place of its own, so that two open pages never overwrite each other's.
let queue = everyKept();
let sending = false;
let pressed = -TWICE_MS;
let refusal = "";

function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function everyKept() {
  try {
    return Object.keys(localStorage)
      .filter((place) => place.startsWith(QUEUE_KEPT))
      .map(kept)
      .filter((event) => event)
      .sort((one, other) => one.written - other.written);
  } catch {
    return []; // This browser keeps nothing, so nothing is kept.
  }
}

function release(id) {
  queue = queue.filter((event) => event.id !== id);
  try {
    localStorage.removeItem(QUEUE_KEPT + id);
  } catch {
    // What was never kept needs no releasing.
  }
}

function own() {
  const arrived = new Set(told.ids);
  return queue
    .filter((event) => !arrived.has(event.id))
    .map((event) => ({ ...event, at: event.written + clock.offset - told.zero }));
}

stands = () => withOwn(told, own());
followsThePlanAlone = false;

function say(kind, answers, words, more = {}) {
  refusal = "";
  const event = { id: newId(), kind, answers, words, written: Date.now(), ...more };
  queue.push(event);
  keep(QUEUE_KEPT + event.id, event);
  sounds.start();
  show();
  send();
}

async function post(event) {
  const body = new URLSearchParams({ tablet_id: event.id, kind: event.kind, answers: event.answers, into: event.into ?? "" });
  for (const plate of event.repeats ?? []) body.append("repeats", plate);
  body.set("ago_ms", String(Math.round(Math.min(Math.max(Date.now() - event.written, 0), LONGEST_KEPT_MS))));
  const answer = await fetch(caller.dataset.say, { method: "POST", body, headers: { Accept: "application/json" }, signal: AbortSignal.timeout(ANSWERED_MS) });
  if (answer.ok && answer.headers.get("content-type")?.includes("json")) return { told: await answer.json() };
  if (answer.status < 400 || answer.status >= 500) throw new Error("this is not our server, or it stumbled");
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (answer.status === 401 || answer.status === 403) return { signedOut: true };
  return { refusal: page.querySelector("#problem p")?.textContent ?? "The server did not take this." };
}

// In the order in which it was said; what the server does not answer stays kept and is sent again.
async function send() {
  if (sending) return;
  sending = true;
  try {
    while (queue.length) {
      const [event] = queue;
      const answer = await post(event);
      if (answer.signedOut) {
        trouble = "This device's sign-in has ended, so what you called is kept here. Sign in again in another window.";
        break;
      }
      release(event.id);
      if (answer.refusal) refusal = `“${event.words}” was not taken. ${answer.refusal}`;
      if (answer.told) hear(answer.told);
    }
  } catch {
    // No answer came. It may have arrived all the same; the same id sent again is the same event.
  } finally {
    sending = false;
    show();
  }
}

// What the one large control says in each state of the class.
function mainControl(here) {
  if (here.mode === "paused") return { kind: "resumed", answers: "", words: "Go on" };
  if (here.mode === "stopped") return { kind: "clear", answers: "", words: "All clear" };
  if (here.mode === "clear") return { kind: "taken up", answers: "", words: "Take up again" };
  const next = here.ahead[0];
  if (!next) return { kind: "", answers: "", words: "Nothing more is called" };
  return { kind: "called", answers: next.cue.key, words: cueWords(next.cue) };
}

function current() {
  const { standing, undo } = stands();
  const now = clock.now() - told.zero;
  const here = situation(told, standing, now, null);
  // A class that went by its plan is called from its first cue, unless somebody catches up.
  const ahead = standing.mode === "by the plan" ? foreseen(told, standing, null) : here.ahead;
  return { here: { ...here, ahead }, standing, undo, now };
}

function advance() {
  if (performance.now() - pressed < TWICE_MS) return; // A glove that touches twice calls once.
  const { here, standing, now } = current();
  const control = mainControl(here);
  if (!control.kind) return;
  if (control.kind === "called" && here.ahead[0].cue.light === "allowed" && openPlates(told, standing, now).length) {
    refusal = "A plate is open in the dark, so the lights stay off. If somebody is in danger, call LIGHTS.";
    show();
    return;
  }
  pressed = performance.now();
  say(control.kind, control.answers, control.words);
}

function back() {
  if (performance.now() - pressed < TWICE_MS) return;
  pressed = performance.now();
  const { undo } = current();
  if (undo) say("undone", undo.id, `taking back ${undo.words}`);
}

function lights() {
  say("stopped", "", "LIGHTS");
}

function hold() {
  const { here } = current();
  if (here.mode === "paused") say("resumed", "", "Go on");
  else if (here.mode === "running" || here.mode === "by the plan") say("paused", "", "Pause");
}

const repeats = document.getElementById("repeats");

// The plates made last, each a tap: in the round kept for repeats if one is left, or at once.
function offerRepeats() {
  const [into = ""] = told.spare;
  const when = into ? "in the round kept for repeats" : "at once: what was not begun comes later";
  const choices = told.repeats.map(([value, words]) => ({ value, into, words: `${words}, ${when}` }));
  const leave = told.spare.length ? [{ kind: "left out", words: "Nobody repeats: leave out the rounds kept for it" }] : [];
  const buttons = [...choices, ...leave].map((choice) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = choice.words;
    button.addEventListener("click", () => {
      repeats.hidden = true;
      if (choice.kind) say(choice.kind, "", choice.words);
      else say("repeat", "", `Repeat of ${choice.words}`, { repeats: [choice.value], into: choice.into });
    });
    return button;
  });
  const empty = document.createElement("p");
  empty.textContent = "No plate was begun yet, so there is none to repeat.";
  repeats.replaceChildren(...(buttons.length ? buttons : [empty]));
  repeats.hidden = !repeats.hidden;
  if (!repeats.hidden) repeats.scrollIntoView({ block: "nearest" });
}

const CONTROLS = { advance, back, hold, lights, repeat: offerRepeats, "catch-up": () => say("caught up", "", "Caught up with the plan") };

function act(control) {
  if (control !== "repeat") repeats.hidden = true;
  CONTROLS[control]();
}

// A gloved finger counts where it comes down; a click that a keyboard makes has no finger behind it.
const everything = document.getElementById("main");
everything.addEventListener("pointerdown", (event) => {
  const control = event.target.closest("[data-control]");
  if (!control || event.button) return;
  event.preventDefault();
  act(control.dataset.control);
  document.getElementById("advance").focus();
});
everything.addEventListener("click", (event) => {
  const control = event.target.closest("[data-control]");
  if (!control) return;
  event.preventDefault();
  if (!event.detail) act(control.dataset.control);
});
everything.addEventListener("contextmenu", (event) => event.preventDefault());

// Any large key and most pedals advance. Somebody who went to another control with the keyboard means that one.
document.addEventListener("keydown", (event) => {
  if (event.repeat || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
  const elsewhere = document.activeElement?.closest("button, a, summary");
  if (elsewhere && elsewhere.id !== "advance" && ["Space", "Enter", "NumpadEnter"].includes(event.code)) return;
  if (event.key === "Escape") act("lights");
  else if (BACK.includes(event.code)) act("back");
  else if (ADVANCE.includes(event.code) || event.key.length === 1) act("advance");
  else return;
  event.preventDefault();
});

document.addEventListener("shown", () => {
  const { here, undo } = current();
  const control = mainControl(here);
  const [next] = here.ahead;
  const movers = control.kind === "called" ? moverLines(next).map(([group, what, where]) => `${group} ${what} ${where}`) : [];
  document.getElementById("advance").disabled = !control.kind;
  write("advance-words", control.words);
  const covered = control.kind === "called" && next.cue.light === "allowed" && here.covered.length ? [`cover first: ${here.covered.join(", ")}`] : [];
  write("advance-who", [...covered, ...movers].join(" · "));
  write("undo-words", undo ? undo.words : "nothing");
  write("hold-words", here.mode === "paused" ? "Go on" : "Pause");
  write("kept-here", own().length ? `${own().length} kept on this device, not yet at the server.` : "");
  write("refused", refusal ? `▲ ${refusal}` : "");
  const behind = foreseen(told, stands().standing, null).filter(({ due }) => due <= clock.now() - told.zero).length > 1;
  document.getElementById("catch-up").hidden = !behind || here.mode === "stopped" || here.mode === "clear" || here.mode === "paused";
});

setInterval(send, SEND_AGAIN_MS);
addEventListener("online", send);
send();
show();
