// Every screen near open plates: asks the server before it leaves a page, because a browser tells of a lost network on a white page of
// its own; looks which colour, brightness and warning are its own by now; and keeps the browser from opening lit windows over it.
"use strict";

{
  const root = document.documentElement;
  const isBoard = document.getElementById("board-now") !== null;
  const PATIENCE_MS = 5000;
  const LOOK_EVERY_MS = 10000;
  const LOOK_OFTEN_MS = 4000;
  const BLIND = "This screen shows nothing, because the plates in use see every colour. Run notes wait until lights are allowed.";

  let leaving = false;
  let cleared = null;
  let heard = performance.now();

  function say(sentence) {
    let place = document.getElementById("unreached");
    if (!place) {
      place = document.createElement("p");
      place.id = "unreached";
      place.setAttribute("role", "alert");
      document.body.prepend(place);
    }
    place.textContent = sentence;
    place.scrollIntoView({ block: "nearest" });
    if (root.dataset.light === "none") speak(sentence);
  }

  function speak(sentence) {
    navigator.vibrate?.(80);
    if (!("speechSynthesis" in window)) return;
    speechSynthesis.cancel();
    speechSynthesis.speak(new SpeechSynthesisUtterance(sentence));
  }

  // Only our own clock proves that our server is there: a network's sign-in page would be white.
  async function isThere() {
    try {
      const answer = await fetch("/clock", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
      return typeof (await answer.json()).now === "number";
    } catch {
      return false;
    }
  }

  async function isKeptHere(address) {
    try {
      return (await fetch(address, { cache: "only-if-cached", mode: "same-origin" })).ok;
    } catch {
      return false;
    }
  }

  async function leave(go, address) {
    if (leaving) return;
    leaving = true;
    const found = (await isThere()) || (address !== undefined && (await isKeptHere(address)));
    leaving = false;
    if (found) go();
    else say("▲ No answer from the server, so this page stays. Try again when the network is back.");
  }

  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (!link || event.defaultPrevented || link.origin !== location.origin || link.getAttribute("href").startsWith("#")) return;
    event.preventDefault();
    leave(() => location.assign(link.href), link.href);
  });

  // A new tab begins white.
  document.addEventListener("auxclick", (event) => event.target.closest("a[href]") && event.preventDefault());

  document.addEventListener("submit", (event) => {
    if (event.defaultPrevented || event.target === cleared) return;
    const { target: form, submitter } = event;
    event.preventDefault();
    leave(() => {
      cleared = form;
      form.requestSubmit(submitter);
      cleared = null;
    });
  });

  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented) return;
    const command = event.ctrlKey || event.metaKey;
    const key = event.key.toLowerCase();
    if (key === "f5" || (command && key === "r")) {
      event.preventDefault();
      leave(() => location.reload());
    } else if (event.altKey && (key === "arrowleft" || key === "arrowright")) {
      event.preventDefault();
      leave(() => history.go(key === "arrowleft" ? -1 : 1));
    } else if (key === "f1" || (command && ["p", "s", "f", "o"].includes(key))) {
      event.preventDefault();
      if (key === "p") say("▲ Nothing is printed from here: it would open a white window.");
    }
  });

  document.addEventListener("contextmenu", (event) => event.preventDefault());
  document.addEventListener("dragstart", (event) => event.preventDefault());
  // The browser would draw a bubble; the page itself says what is missing.
  document.addEventListener("invalid", (event) => event.preventDefault(), true);

  document.addEventListener("pointerdown", () => {
    if (root.dataset.light === "none" && !isBoard) speak(document.querySelector("[data-spoken]")?.dataset.spoken ?? BLIND);
  });

  // A device's own keyboard is bright: the signs of a class code stand on the page itself.
  function pressed(field, sign) {
    field.value = sign ? field.value + sign : field.value.slice(0, -1);
  }

  function key(field, sign) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = sign || "Back";
    made.addEventListener("click", () => pressed(field, sign));
    return made;
  }

  for (const field of document.querySelectorAll("input[data-keys]")) {
    const keys = document.createElement("div");
    keys.className = "keys";
    keys.setAttribute("role", "group");
    keys.setAttribute("aria-label", "Signs");
    keys.append(...[...field.dataset.keys, ""].map((sign) => key(field, sign)));
    field.inputMode = "none";
    field.after(keys);
  }

  function warn(sentence) {
    const place = document.getElementById("screen-warning");
    if (!place || place.textContent.trim() === sentence) return;
    place.textContent = sentence;
    place.hidden = !sentence;
  }

  // A board hears of its colour with everything else that it is told.
  async function look() {
    if (document.visibilityState === "hidden") return;
    try {
      const answer = await fetch("/light", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
      const told = await answer.json();
      heard = performance.now();
      root.dataset.level = told.level;
      if (!isBoard) {
        root.dataset.kept = told.colour;
        root.dataset.light = told.shown;
      }
      warn(told.warning);
    } catch {
      // Nobody is signed in, or there is no network: what is shown stays, unless it may be shown only while lights are allowed.
      if (root.dataset.kept === "none" && performance.now() - heard > LOOK_OFTEN_MS) root.dataset.light = "none";
    }
  }

  async function keepLooking() {
    await look();
    setTimeout(keepLooking, root.dataset.light === "none" || root.dataset.kept === "none" ? LOOK_OFTEN_MS : LOOK_EVERY_MS);
  }

  if (document.body.hasAttribute("data-looks")) keepLooking();
  addEventListener("pageshow", (event) => event.persisted && look());
  document.addEventListener("visibilitychange", look);
}
