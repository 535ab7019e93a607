// What every page does beside htmx: say when no answer came, print, and count down to a moment the server gave.
"use strict";

document.addEventListener("htmx:error", () => {
  const notice = document.getElementById("notice");
  if (!notice) return;
  notice.innerHTML = "";
  const words = document.createElement("p");
  words.className = "note stop";
  words.textContent =
    "No answer came from the server, so it isn't known whether this arrived. What you typed is still here: when the network is back, look whether it is there already before you press the button again.";
  notice.append(words);
});

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-print]");
  if (button) window.print();
});

// A chosen file's text goes into the field that the page names, where it is seen, changed and sent like typed text.
document.addEventListener("change", async (event) => {
  const field = document.getElementById(event.target.dataset?.textInto ?? "");
  const file = event.target.files?.[0];
  if (field && file) field.value = await file.text();
});

// Levels to mark by: arrows go from one to the next, a figure presses the one of so many points in the same criterion.
document.addEventListener("keydown", (event) => {
  const button = event.target.closest?.("[data-steps] [data-key]");
  if (!button || event.ctrlKey || event.metaKey || event.altKey) return;
  const all = [...button.closest("[data-steps]").querySelectorAll("[data-key]")];
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  const next = step
    ? all[all.indexOf(button) + step]
    : all.find((one) => one.dataset.key === event.key && one.form === button.form);
  if (!next) return;
  event.preventDefault();
  next.focus();
  if (!step) next.click();
});

// <time data-until="2027-02-16T15:40:00+00:00"> shows what is left; the server's clock is read from the page's own
// data-now, so that a tablet with a wrong clock still counts right.
function countDown() {
  for (const place of document.querySelectorAll("time[data-until]")) {
    place.skew ??= Date.parse(place.dataset.now) - Date.now();
    const left = Math.round((Date.parse(place.dataset.until) - Date.now() - place.skew) / 1000);
    const size = Math.abs(left);
    const hours = Math.floor(size / 3600);
    const minutes = Math.floor((size % 3600) / 60);
    const words = hours ? `${hours} h ${minutes} min` : minutes ? `${minutes} min ${size % 60} s` : `${size} s`;
    place.textContent = left >= 0 ? `${words} left` : `ended ${words} ago`;
  }
}
setInterval(countDown, 1000);
