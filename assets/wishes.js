/* The reader's wishes: each choice goes into a cookie, and the page is drawn again by it. */
(function () {
  "use strict";

  const YEAR_S = 31536000;

  document.addEventListener("change", (event) => {
    const { cookie } = event.target.dataset;
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
