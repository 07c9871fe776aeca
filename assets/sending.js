/* The panel that sends the log again: starts, stops and watches it. */
(function () {
  "use strict";

  const POLL_MS = 1000;
  const FIELDS = ["way", "port", "corrected", "pace", "from", "until", "loop"];
  const at = (name) => document.getElementById(`send-${name}`);
  const wanted = window.location.hash === "#send";
  let watching = null;

  function show(told) {
    at("told").textContent = told.words || "";
    at("stop").disabled = !told.running;
    window.clearTimeout(watching);
    if (told.running) watching = window.setTimeout(() => ask("state"), POLL_MS);
  }

  async function ask(what, body) {
    const options = what === "state" ? {} : {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body || {}),
    };
    try {
      const answer = await fetch(`send/${what}`, options);
      const told = await answer.json();
      if (at("told")) show(told);
    } catch {
      if (at("told")) show({ words: "The program does not answer; start it again.", running: false });
    }
  }

  document.addEventListener("click", (event) => {
    if (event.target.closest("#send-start")) {
      ask("start", Object.fromEntries(FIELDS.filter(at).map((name) => [name, at(name).value])));
    }
    if (event.target.closest("#send-stop")) ask("stop");
  });

  const waiting = new MutationObserver(() => {
    if (!at("told")) return;
    waiting.disconnect();
    if (wanted) document.getElementById("send").scrollIntoView();
    ask("state");
  });
  waiting.observe(document, { subtree: true, childList: true });
})();
