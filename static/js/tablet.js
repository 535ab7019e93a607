// The tablet's outbox: what is filed is kept on this tablet first and leaves it only when the server has answered that
// it arrived. It carries an id made here, so that sending it twice files it once. Works on plain HTTP.
"use strict";

const STORE = "stillroom.note.";
const LONGEST_KEPT_S = 7 * 86400;
const PATIENCE_MS = 20000;
const RETRY_MS = 4000;

let busy = 0;

function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

// Each note has a place of its own, so that two open pages never overwrite each other's.
function everyNote() {
  try {
    return Object.keys(localStorage)
      .filter((place) => place.startsWith(STORE))
      .map((place) => JSON.parse(localStorage.getItem(place)))
      .filter((note) => note)
      .sort((one, other) => one.written - other.written);
  } catch {
    return []; // This browser keeps nothing, so nothing is kept.
  }
}

function keep(note) {
  localStorage.setItem(STORE + note.id, JSON.stringify(note));
}

function release(id) {
  localStorage.removeItem(STORE + id);
}

function theForm() {
  return document.querySelector("form[data-outbox]");
}

const SIGNED_OUT =
  "This tablet's sign-in has ended. What was written is kept on this tablet, and will be sent when you have joined your group again with the class code.";

function say(sentence) {
  const notice = document.getElementById("notice");
  if (notice.textContent === sentence) return; // Said once, not every few seconds.
  const words = document.createElement("p");
  words.className = "note";
  words.textContent = sentence;
  notice.replaceChildren(words);
}

// What the server said of a note: "arrived" with the page that came back, "refused" with its sentence, "signed out",
// "failed", or "unanswered".
async function send(note) {
  const kept = Math.round((Date.now() - note.written) / 1000);
  const body = new URLSearchParams(note.fields);
  body.set("kept_s", String(Math.min(Math.max(kept, 0), LONGEST_KEPT_S)));
  let answer;
  let page;
  try {
    answer = await fetch(note.action, { method: "POST", body, signal: AbortSignal.timeout(PATIENCE_MS) });
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    return { state: "unanswered" };
  }
  // Only our own page after the redirect proves that the note arrived; a network's sign-in page would not.
  if (answer.ok && answer.redirected && page.getElementById("tablet-runs")) return { state: "arrived", page };
  if (answer.status < 400) return { state: "unanswered" };
  if (answer.status >= 500) return { state: "failed" };
  // 403: a member of staff has signed in on this tablet since.
  if (answer.status === 401 || answer.status === 403) return { state: "signed out" };
  const faults = [...page.querySelectorAll("#problem p, .fault")].map((fault) => fault.textContent.replace("▲", "").trim());
  return { state: "refused", sentence: faults.join(" ") || "The server did not take this note.", page };
}

function noteFrom(form) {
  const fields = [...new FormData(form)].map(([name, value]) => [name, String(value)]);
  const id = form.elements.tablet_id?.value || newId();
  return { id, group: form.dataset.group, what: form.dataset.outbox, action: form.getAttribute("action"), fields, written: Date.now() };
}

function button(words, press) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  made.addEventListener("click", () => press(made));
  return made;
}

function putBack(note) {
  const form = theForm();
  for (const [name, value] of note.fields) {
    const field = form.elements[name];
    if (field) field.value = value;
  }
  form.scrollIntoView();
  say("The kept note is in the form again. Change it and file it; until then it stays kept.");
}

function throwAway(note, made) {
  if (made.dataset.asked) {
    release(note.id);
    showOutbox();
    say("The note was thrown away.");
  } else {
    made.dataset.asked = "yes";
    made.textContent = "Press again to throw it away";
  }
}

function showOutbox() {
  const box = document.getElementById("outbox");
  if (!box) return;
  const notes = everyNote();
  const own = notes.filter((note) => note.group === box.dataset.group);
  const lines = own.map((note) => {
    const line = document.createElement("div");
    const words = document.createElement("p");
    const clock = new Date(note.written).toTimeString().slice(0, 5);
    words.textContent = `${note.what}, written ${clock}: ${note.sentence ? `▲ not taken. ${note.sentence}` : "○ waiting to be sent"}`;
    line.append(words);
    const choices = document.createElement("div");
    choices.className = "row";
    if (note.sentence) choices.append(button("Send again", () => sendKept([note.id])));
    if (note.sentence && theForm()?.getAttribute("action") === note.action) choices.append(button("Change it", () => putBack(note)));
    if (note.sentence) choices.append(button("Throw it away", (made) => throwAway(note, made)));
    line.append(choices);
    return line;
  });
  if (notes.length > own.length) {
    const others = document.createElement("p");
    others.textContent = `${notes.length - own.length} more of another group. Join that group on this tablet to send them.`;
    lines.push(others);
  }
  box.querySelector(".kept").replaceChildren(...lines);
  box.hidden = lines.length === 0;
}

function freshId() {
  const field = theForm()?.elements.tablet_id;
  if (field) field.value = newId();
}

function show(page) {
  document.getElementById("main").replaceWith(document.adoptNode(page.getElementById("main")));
  document.title = page.title;
  document.documentElement.dataset.light = page.documentElement.dataset.light;
  showOutbox();
}

function showRuns(page) {
  const fresh = page.getElementById("tablet-runs");
  document.getElementById("tablet-runs")?.replaceWith(document.adoptNode(fresh));
}

// Sends what is kept, in the order it was written. Notes that were refused wait until somebody presses a button.
async function sendKept(ids) {
  const group = document.querySelector("[data-group]")?.dataset.group;
  if (busy || !group) return;
  busy += 1;
  try {
    const due = everyNote().filter((note) => note.group === group && (ids ? ids.includes(note.id) : !note.sentence));
    for (const note of due) {
      const answer = await send(note);
      if (answer.state === "arrived") {
        release(note.id);
        showRuns(answer.page);
        say(`A kept ${note.what} has arrived.`);
      } else if (answer.state === "refused") {
        keep({ ...note, sentence: answer.sentence });
        say(`A kept ${note.what} was not taken: ${answer.sentence}`);
      } else if (answer.state !== "failed") {
        if (answer.state === "signed out") say(SIGNED_OUT);
        break; // A note that the server stumbles over holds up no other; a network that is gone holds up all.
      }
      showOutbox();
    }
  } finally {
    busy -= 1;
  }
}

function clearForNext(form) {
  for (const field of form.querySelectorAll("textarea")) field.value = "";
  const none = form.querySelector("[name=incident][value=none]");
  if (none) none.checked = true;
  freshId();
}

// `before` is the note as it was kept already, when it was put back into the form.
function settle(form, note, before, answer) {
  if (answer.state === "arrived") {
    release(note.id);
    history.replaceState(null, "", "/tablet");
    show(answer.page);
    freshId();
    say(`Filed: ${note.what}.`);
    scrollTo(0, 0);
  } else if (answer.state === "refused") {
    if (before) keep({ ...note, sentence: answer.sentence });
    else release(note.id);
    if (theForm() && answer.page.querySelector("form[data-outbox]")) show(answer.page);
    else showOutbox();
    say(answer.sentence);
  } else {
    clearForNext(form);
    showOutbox();
    const unheard = `The server did not answer. The ${note.what} is kept on this tablet, and will be sent as soon as it does.`;
    say(answer.state === "signed out" ? SIGNED_OUT : unheard);
  }
}

async function file(form, note, before) {
  const submit = form.querySelector("[type=submit]");
  submit.disabled = true;
  busy += 1;
  try {
    settle(form, note, before, await send(note));
  } finally {
    busy -= 1;
    submit.disabled = false;
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form[data-outbox]")) return;
  const note = noteFrom(form);
  const before = everyNote().find((kept) => kept.id === note.id);
  if (before) note.written = before.written;
  try {
    keep(note);
  } catch {
    return; // Nothing can be kept on this tablet, so the browser sends the form by itself.
  }
  event.preventDefault();
  file(form, note, before);
});

// A station brings its own times along.
document.addEventListener("change", (event) => {
  const tile = event.target;
  for (const name of ["settle_s", "exposure_s"]) {
    const field = tile.form?.elements[name];
    if (field && tile.dataset[name] !== undefined) field.value = tile.dataset[name];
  }
});

document.addEventListener("click", (event) => {
  const step = event.target.closest("[data-step]");
  if (!step) return;
  const field = document.getElementById(step.dataset.for);
  field.value = String(Math.max(0, (parseInt(field.value, 10) || 0) + Number(step.dataset.step)));
});

function begin() {
  freshId();
  showOutbox();
  sendKept();
}

addEventListener("online", () => sendKept());
addEventListener("pageshow", begin);
setInterval(() => sendKept(), RETRY_MS);
