/* The reader's wishes: each choice goes into a cookie, and the page is drawn again by it; or into a store of the page. */
(function () {
  "use strict";

  const YEAR_S = 31536000;

  document.addEventListener("change", (event) => {
    const { cookie, store } = event.target.dataset;
    if (store) window.dash_clientside.set_props(store, { data: event.target.value });
    if (!cookie) return;
    document.cookie = `${cookie}=${event.target.value}; SameSite=Strict; Max-Age=${YEAR_S}; Path=/`;
    window.location.reload();
  });

  document.addEventListener("click", (event) => {
    document.querySelectorAll(".menu-button[open]").forEach((menu) => {
      if (!menu.contains(event.target)) menu.open = false;
    });
  });
})();
