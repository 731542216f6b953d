/* The first start: proposes the browser's own time zone. Without this file the list begins at UTC. */
"use strict";

(() => {
  const zone = document.getElementById("id_timezone");
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if ([...zone.options].some((option) => option.value === here)) zone.value = here;
})();
