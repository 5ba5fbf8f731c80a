// The phone knows its time zone and country; the page then need not ask for what follows.
const zone = document.getElementById("id_time_zone");
const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (!zone.value && [...zone.options].some((option) => option.value === here)) {
  zone.value = here;
  if (navigator.language.endsWith("-US")) {
    document.querySelector("[name=region][value=us]").checked = true;
    document.getElementById("id_weight_unit").value = "lb";
    document.getElementById("id_temperature_unit").value = "F";
  }
}
