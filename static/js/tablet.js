// What is filed on a tablet goes into its outbox first, and leaves it only when the server has answered that it arrived. Each
// note carries an id made here, so that sending it twice files it once. Works on plain HTTP.
"use strict";

const PATIENCE_MS = 20000;
const RETRY_MS = 4000;
const CLOCK_AGAIN_MS = 60000;

function everyNote() {
  return outbox.every();
}

function forms() {
  return [...document.querySelectorAll("form[data-outbox]")];
}

function formFor(note) {
  return forms().find((form) => form.getAttribute("action") === note.action);
}

const SIGNED_OUT =
  "This tablet's sign-in has ended. What was written is kept on this tablet, and will be sent when you have joined your group again with the class code.";
const ONLY_HERE =
  "This browser has no room to keep notes, so what is filed waits only in this page until the server has it. Keep the page open while anything is listed as waiting.";

function say(sentence) {
  const notice = document.getElementById("notice");
  if (notice.textContent === sentence) return; // Said once, not every few seconds.
  const words = document.createElement("p");
  words.className = "note";
  words.textContent = sentence;
  notice.replaceChildren(words);
}

// The note as the form stands now. Pictures are still as they were taken.
function noteFrom(form, submitter) {
  const all = [...new FormData(form)];
  if (submitter?.name) all.push([submitter.name, submitter.value]);
  return {
    id: form.elements.tablet_id?.value || outbox.newId(),
    group: form.dataset.group,
    what: form.dataset.outbox,
    action: form.getAttribute("action"),
    after: form.dataset.after,
    fields: all.filter(([, value]) => typeof value === "string"),
    files: all.filter(([, value]) => typeof value !== "string" && value.size),
    written: outbox.writing(),
  };
}

function button(words, press) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  made.addEventListener("click", () => press(made));
  return made;
}

function putBack(note) {
  const form = formFor(note);
  for (const field of form.elements) {
    const values = note.fields.filter(([name]) => name === field.name).map(([, value]) => value);
    if (field.type === "radio" || field.type === "checkbox") field.checked = values.includes(field.value);
    else if (values.length) field.value = values[0];
  }
  form.scrollIntoView();
  say("The kept note is in the form again. Change it and file it; until then it stays kept.");
}

// What builds on a note goes with it.
async function throwAway(note, made) {
  if (made.dataset.asked) {
    for (const { id, after } of await everyNote()) if (id === note.id || after === note.id) await outbox.release(id);
    await showOutbox();
    say(`The ${note.what} was thrown away.`);
  } else {
    made.dataset.asked = "yes";
    made.textContent = "Press again to throw it away";
  }
}

// A plate may be dry before its run note has arrived: its verdict then waits behind the note, and names the run by the note's id.
function rateEarly(note) {
  document.querySelector("form[data-after]")?.remove();
  const form = document.querySelector("#outbox template").content.firstElementChild.cloneNode(true);
  form.action = `/tablet/notes/${note.id}/verdict`;
  form.dataset.outbox = `verdict on the plate noted at ${outbox.clockTime(note)}`;
  form.dataset.after = note.id;
  form.dataset.begun = "yes";
  form.querySelector("h2").textContent = form.dataset.outbox.replace("v", "V");
  document.getElementById("notice").replaceChildren();
  document.getElementById("outbox").after(form);
  form.scrollIntoView();
  form.querySelector("input[type=radio]").focus({ preventScroll: true });
}

function lineOf(note, notes) {
  const line = document.createElement("div");
  const words = document.createElement("p");
  const behind = notes.some(({ id }) => id === note.after);
  const waiting = behind ? "○ waiting for its run note to go first" : "○ waiting to be sent";
  const state = note.sentence ? `▲ not taken. ${note.sentence}` : waiting;
  words.textContent = `${note.what}, written ${outbox.clockTime(note)}: ${state}`;
  line.append(words);
  const choices = document.createElement("div");
  choices.className = "row";
  if (note.sentence) choices.append(button("Send again", () => sendKept([note.id])));
  if (note.sentence && !note.files.length && formFor(note)) choices.append(button("Change it", () => putBack(note)));
  const canRate = document.querySelector("#outbox template") && note.action === "/tablet/runs";
  if (canRate && !notes.some(({ after }) => after === note.id)) choices.append(button("Rate its plate", () => rateEarly(note)));
  if (note.sentence) choices.append(button("Throw it away", (made) => throwAway(note, made)));
  line.append(choices);
  return line;
}

// Drawn anew only when something changed, so that no button goes from under a finger.
async function showOutbox() {
  const box = document.getElementById("outbox");
  if (!box) return;
  const notes = await everyNote();
  const state = JSON.stringify(notes.map(({ id, sentence }) => [id, sentence]));
  if (box.dataset.shown === state) return;
  box.dataset.shown = state;
  const own = notes.filter((note) => note.group === box.dataset.group);
  const lines = own.map((note) => lineOf(note, own));
  if (notes.length > own.length) {
    const others = document.createElement("p");
    others.textContent = `${notes.length - own.length} more of another group. Join that group on this tablet to send them.`;
    lines.push(others);
  }
  box.querySelector(".kept").replaceChildren(...lines);
  box.hidden = lines.length === 0;
}

function freshIds() {
  for (const form of forms()) if (form.elements.tablet_id) form.elements.tablet_id.value = outbox.newId();
}

async function show(page) {
  document.getElementById("main").replaceWith(document.adoptNode(page.getElementById("main")));
  document.title = page.title;
  document.documentElement.dataset.light = page.documentElement.dataset.light;
  await showOutbox();
}

function showRuns(page) {
  const fresh = page.getElementById("tablet-runs");
  document.getElementById("tablet-runs")?.replaceWith(document.adoptNode(fresh));
}

// What came back, in the place of the sent form and of the list alone: another form is half filled.
async function showAround(form, page) {
  const fresh = [...page.querySelectorAll("form[data-outbox]")].find((one) => one.getAttribute("action") === form.getAttribute("action"));
  if (fresh) form.replaceWith(document.adoptNode(fresh));
  else (form.closest("#main section") ?? form).remove();
  showRuns(page);
  await showOutbox();
}

// The page that stands open, as it is now: what was filed on it shows there.
async function showAnew() {
  try {
    const answer = await fetch(location.href, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (answer.ok && page.querySelector("form[data-outbox]")) await show(page);
  } catch {
    // It stays as it was; what was filed has arrived all the same.
  }
}

// Sends what is kept. Notes that were refused wait until somebody presses a button.
async function sendKept(ids) {
  const group = document.querySelector("[data-group]")?.dataset.group;
  if (!group) return;
  const due = (note) => note.group === group && (ids ? ids.includes(note.id) : !note.sentence);
  await outbox.sendAll(due, (note, answer) => {
    if (answer.state === "arrived") {
      showRuns(answer.page);
      say(`A kept ${note.what} has arrived.`);
    } else if (answer.state === "refused") {
      say(`A kept ${note.what} was not taken: ${answer.sentence}`);
    } else if (answer.state === "signed out") {
      say(SIGNED_OUT);
    }
    showOutbox();
  });
  await showOutbox();
}

function clearForNext(form) {
  if (form.dataset.after) {
    form.remove();
    return;
  }
  for (const field of form.querySelectorAll("textarea, input[type=file]")) field.value = "";
  const preview = form.querySelector("canvas");
  if (preview) preview.hidden = true;
  delete form.dataset.begun;
  const none = form.querySelector("[name=incident][value=none]");
  if (none) none.checked = true;
  freshIds();
}

// `before` is the note as it was kept already, when it was put back into the form; `lasting` says whether it outlives this page.
async function settle(form, note, before, lasting, answer) {
  const stays = "stay" in form.dataset;
  const hasNeighbour = forms().some((other) => other !== form && other.dataset.begun);
  if (answer.state === "arrived") {
    await outbox.release(note.id);
    if (stays) {
      clearForNext(form);
      await showAnew();
    } else if (hasNeighbour) {
      await showAround(form, answer.page);
    } else {
      history.replaceState(null, "", "/tablet");
      await show(answer.page);
      scrollTo(0, 0);
    }
    freshIds();
    say(`Filed: ${note.what}.`);
  } else if (answer.state === "refused") {
    if (before) await outbox.change(note.id, { sentence: answer.sentence, claim: null });
    else await outbox.release(note.id);
    const redrawn = !stays && answer.page.querySelector("form[data-outbox]");
    if (redrawn && hasNeighbour) await showAround(form, answer.page);
    else if (redrawn) await show(answer.page);
    else await showOutbox();
    say(answer.sentence);
  } else {
    await outbox.change(note.id, { claim: null });
    clearForNext(form);
    await showOutbox();
    const unheard = lasting
      ? `The server did not answer. The ${note.what} is kept on this tablet, and will be sent as soon as it does.`
      : `The server did not answer. ${ONLY_HERE}`;
    const follows = `The ${note.what} is kept on this tablet, and is sent after its run note.`;
    say({ "signed out": SIGNED_OUT, behind: follows }[answer.state] ?? unheard);
    if (answer.state === "behind") sendKept();
  }
}

async function file(form, submitter) {
  const note = noteFrom(form, submitter);
  const pressed = submitter ?? form.querySelector("[type=submit]");
  const words = pressed.textContent;
  pressed.textContent = "Sending…";
  form.inert = true; // What is tapped now would go when the answer comes.
  try {
    note.files = await Promise.all(note.files.map(([name, picture]) => smaller(name, picture)));
    const before = (await everyNote()).find((kept) => kept.id === note.id);
    if (before) note.written = before.written;
    const lasting = await outbox.add(note);
    const behind = (await everyNote()).some(({ id }) => id === note.after);
    const answer = !behind && (await outbox.measure()) ? await outbox.send(note) : { state: behind ? "behind" : "unanswered" };
    await settle(form, note, before, lasting, answer);
  } finally {
    form.inert = false;
    pressed.textContent = words;
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form[data-outbox]")) return;
  event.preventDefault();
  if (form.dataset.after && !new FormData(form).has("verdict")) say("Please choose one of the five verdicts.");
  else file(form, event.submitter);
});

for (const kind of ["input", "change"]) {
  document.addEventListener(kind, (event) => event.target.form?.matches("form[data-outbox]") && (event.target.form.dataset.begun = "yes"));
}

// Leaving the page would lose what is kept in it alone, so the first press on a link says so instead.
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[href]");
  if (!link || !outbox.onlyHere() || link.dataset.warned) return;
  event.preventDefault();
  link.dataset.warned = "yes";
  say(`${ONLY_HERE} Press again to leave it all the same.`);
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

async function begin() {
  freshIds();
  outbox.measure();
  if (!(await outbox.isOpen()) && forms().length) say(ONLY_HERE);
  await showOutbox();
  await sendKept();
}

addEventListener("online", () => sendKept());
addEventListener("pageshow", begin);
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) outbox.measure().then(() => sendKept());
});
setInterval(() => sendKept(), RETRY_MS);
setInterval(() => outbox.measure(), CLOCK_AGAIN_MS);
