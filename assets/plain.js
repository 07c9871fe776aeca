/* Lays the parts of a page that stay as they are (data-plain): all words as text, no component behind them. */
(function () {
  "use strict";

  const PLAIN = "data-plain";

  function made(part) {
    if (typeof part === "string") return document.createTextNode(part);
    const [tag, attributes, parts] = part;
    const element = document.createElement(tag);
    Object.entries(attributes).forEach(([name, value]) => {
      if (name === "style") Object.assign(element.style, value);
      else if (value === true) element.setAttribute(name, "");
      else if (value !== false && value !== null) element.setAttribute(name, value);
    });
    element.append(...parts.map(made));
    return element;
  }

  function lay(holder) {
    holder.replaceChildren(...JSON.parse(holder.getAttribute(PLAIN)).map(made));
  }

  new MutationObserver((changes) => {
    changes.forEach((change) => {
      if (change.type === "attributes") lay(change.target);
      else {
        change.addedNodes.forEach((node) => {
          if (node.nodeType !== Node.ELEMENT_NODE) return;
          if (node.hasAttribute(PLAIN)) lay(node);
          node.querySelectorAll(`[${PLAIN}]`).forEach(lay);
        });
      }
    });
  }).observe(document, { subtree: true, childList: true, attributes: true, attributeFilter: [PLAIN] });
})();
