// The list of crops grows shorter while a name is typed. What was ticked stays, seen or not.
const box = document.getElementById("q");
const rows = [...document.querySelectorAll("[data-names]")];
const groups = [...document.querySelectorAll("fieldset.ticks")];
const none = document.querySelector("[data-none]");

function folded(text) {
  return text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
}

function show() {
  const words = folded(box.value).split(/\s+/);
  for (const row of rows) {
    row.hidden = !words.every((word) => row.dataset.names.includes(word));
  }
  for (const group of groups) {
    group.hidden = ![...group.querySelectorAll("[data-names]")].some((row) => !row.hidden);
  }
  none.hidden = groups.some((group) => !group.hidden);
}

box.addEventListener("input", show);
box.form.addEventListener("submit", (event) => {
  // A page that answered a search holds no more than was found; the next search asks for the rest.
  if (new URLSearchParams(location.search).get("q")) return;
  event.preventDefault();
  show();
  box.blur();
});
