// The Emergencies page: marks placed on the track are there to mark a person overboard by.
window.dash_clientside = Object.assign(window.dash_clientside || {}, {
  emergencies: {
    offer(name) {
      const timed = window.sternlog.keptMarks().filter((mark) => mark.t);
      window.sternlog.offerMarks(name, timed, (mark) => {
        window.dash_clientside.set_props("overboard-placed", { data: mark });
      });
      return window.dash_clientside.no_update;
    },
  },
});
