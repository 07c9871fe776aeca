// The Routes page: drawn anew once marks were given.
window.dash_clientside = Object.assign(window.dash_clientside || {}, {
  routes: {
    again(changed) {
      if (changed) window.location.reload();
      return window.dash_clientside.no_update;
    },
  },
});
