// The Findings page: a step of a number that is tried, and the page drawn anew once corrections were changed.
window.dash_clientside = Object.assign(window.dash_clientside || {}, {
  findings: {
    again(changed) {
      if (changed) window.location.reload();
      return window.dash_clientside.no_update;
    },
    print() {
      window.print();
      return window.dash_clientside.no_update;
    },
    step(_less, _more, _again, value, base) {
      const pressed = window.dash_clientside.callback_context.triggered_id;
      if (pressed === "try-again") return String(base.start);
      const typed = Number.parseFloat(String(value).replace(",", ".").replace("−", "-"));
      const from = Number.isFinite(typed) ? typed : base.start;
      const to = from + (pressed.type === "try-less" ? -base.step : base.step);
      return String(Number(to.toFixed(base.decimals)));
    },
  },
});
