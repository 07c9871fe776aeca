// The Water page: the deviation card goes to the printer.
window.dash_clientside = Object.assign(window.dash_clientside || {}, {
  water: {
    print() {
      window.print();
      return window.dash_clientside.no_update;
    },
  },
});
