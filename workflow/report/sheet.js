// Loads in newton, in gram-force or in both: a class on the page hides one half of each amount.
const form = document.querySelector("#units");

function showUnits() {
  const units = new FormData(form).get("units");
  document.documentElement.classList.toggle("only-si", units === "si");
  document.documentElement.classList.toggle("only-gf", units === "gf");
  document.dispatchEvent(new CustomEvent("units", { detail: units }));
}

form.hidden = false;
form.addEventListener("change", showUnits);
// A page that is reloaded keeps the choice; what is drawn further down listens by then.
document.addEventListener("DOMContentLoaded", () => {
  showUnits();
  performance.mark("ready");
});
