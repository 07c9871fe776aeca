// The Sources page: after another source was chosen the page is drawn anew, and says what the choice changed.
window.dash_clientside = Object.assign(window.dash_clientside || {}, {
  sources: {
    tell(changed) {
      const kept = `told ${window.location.pathname}`;
      if (changed) {
        sessionStorage.setItem(kept, changed);
        window.location.reload();
        return window.dash_clientside.no_update;
      }
      const told = sessionStorage.getItem(kept) || "";
      sessionStorage.removeItem(kept);
      return told;
    },
  },
});
