// The Water page: the deviation card goes to the printer; marks placed on the track are there to measure between.
window.dash_clientside = Object.assign(window.dash_clientside || {}, {
  water: {
    print() {
      window.print();
      return window.dash_clientside.no_update;
    },
    offer(name) {
      const fields = ["first-mark", "second-mark"];
      const placed = window.sternlog.keptMarks();
      let next = 0;
      window.sternlog.offerMarks(name, placed, (mark) => {
        window.dash_clientside.set_props(fields[next], { value: mark.position });
        next = 1 - next;
      });
      const none = window.dash_clientside.no_update;
      return placed.length < 2 ? [none, none] : placed.slice(-2).map((mark) => mark.position);
    },
  },
});
