// The run note's own behaviour: what follows from a tap, so that nobody needs more taps. Without it the page works all the same.
"use strict";

function choose(form, name, value) {
  const tile = [...form.querySelectorAll(`[name="${name}"]`)].find((one) => one.value === value);
  if (tile) tile.checked = true;
}

document.addEventListener("change", (event) => {
  const { form, name, value, dataset } = event.target;
  if (!form?.elements.planned_of) return;
  if (name === "place_id") {
    // What is planned is what the chosen station is set to.
    form.elements.planned_of.value = value;
    form.elements.planned_settle_s.value = dataset.settle_s;
    form.elements.planned_exposure_s.value = dataset.exposure_s;
  } else if (name === "charge_id") {
    delete form.dataset.charge;
  } else if (name === "incident" && value === "dropped") {
    // Most plates that fall never reach the developer; where one did, the tile above says so again.
    form.dataset.charge = form.elements.charge_id?.value ?? "";
    choose(form, "charge_id", "");
  } else if (name === "incident") {
    developedAgain(form);
  }
});

// The developer that "dropped" took away.
function developedAgain(form) {
  if (form.dataset.charge && form.elements.charge_id?.value === "") choose(form, "charge_id", form.dataset.charge);
  delete form.dataset.charge;
}

// A note that was kept on the tablet leaves the form standing for the next plate, with a new id: then what was seen of
// the last one goes, and the plate's number goes on.
let filed = null;

function forNextPlate(form) {
  for (const tile of form.querySelectorAll("[name=emulsion_by], [name=bleach_clear_s], [name=filed_by]")) tile.checked = false;
  developedAgain(form);
  const number = form.elements.plate_no;
  if (number?.value) number.value = String(Number(number.value) + 1);
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.elements.planned_of) filed = { form, id: form.elements.tablet_id.value };
});

setInterval(() => {
  if (!filed || filed.form.elements.tablet_id.value === filed.id) return;
  if (filed.form.isConnected) forNextPlate(filed.form);
  filed = null;
}, 300);
