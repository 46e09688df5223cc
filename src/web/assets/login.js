// Whoever comes by a QR code brings the token behind the address, where no server sees it: it is put into the
// form, taken out of the address, and sent.
"use strict";
(() => {
  const token = new URLSearchParams(location.hash.slice(1)).get("token");
  const field = document.getElementById("token");
  if (!token || !field) return;
  history.replaceState(null, "", location.pathname + location.search);
  // A token that was wrong once is not sent again and again.
  if (document.querySelector("[role=alert]")) return;
  field.value = token;
  field.form.requestSubmit();
})();
