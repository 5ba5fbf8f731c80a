// The phone knows its time zone; the page then need not ask for it.
const field = document.getElementById("id_time_zone");
const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (!field.value && [...field.options].some((option) => option.value === here)) {
  field.value = here;
}
