// A page reached by Back: its forms say so, and are asked about where they would do the same again.
function sayBack() {
  for (const field of document.querySelectorAll("input[name=came]")) field.value = "back";
}

const [visit] = performance.getEntriesByType("navigation");
if (visit?.type === "back_forward") sayBack();
// A page the browser had kept as it was.
window.addEventListener("pageshow", (event) => {
  if (event.persisted) sayBack();
});
