// A white page of the tablet, which opened while lights were allowed: asks the gate every few seconds whether it would open now.
"use strict";

{
  const root = document.documentElement;
  const LOOK_EVERY_MS = 4000;
  const PATIENCE_MS = 5000;
  const SHUT = 409;

  // Whether this device keeps a colour, so that plates may be near it; one that is out of the dark room stays lit without a network.
  const isNear = document.getElementById("lit").dataset.near === "yes";
  let leaving = false;

  async function look() {
    if (leaving || document.visibilityState === "hidden") return;
    let status;
    try {
      status = (await fetch(location.href, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) })).status;
    } catch {
      root.toggleAttribute("data-shut", isNear);
      return;
    }
    leaving = status === SHUT;
    root.toggleAttribute("data-shut", leaving);
    if (leaving) location.replace("/tablet");
  }

  setInterval(look, LOOK_EVERY_MS);
  document.addEventListener("visibilitychange", look);
  addEventListener("pageshow", () => {
    leaving = false;
    look();
  });
}
