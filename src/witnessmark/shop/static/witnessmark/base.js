// What the sheet does beyond plain HTML. Every page works without it.
(() => {
  "use strict";

  // A form that came back: the first field with a fault gets the focus, and is seen whole with its words.
  const toFirstFault = (root) => {
    const inside = [".problem", ".wrong"].flatMap((at) => [`${at} input:not([type=hidden])`, `${at} select`, `${at} textarea`]);
    const field = root.querySelector(['[aria-invalid="true"]', ...inside].join());
    if (!field) return;
    field.focus({ preventScroll: true });
    (field.closest(".field, fieldset, .wrong, .tick") ?? field).scrollIntoView({ block: "center" });
  };

  // Preview of photos not yet sent.
  const preview = (input) => {
    const holder = input.closest(".photo-input");
    holder.querySelectorAll("img").forEach((old) => { URL.revokeObjectURL(old.src); old.remove(); });
    for (const file of input.files) {
      if (!file.type.startsWith("image/")) continue;
      const picture = document.createElement("img");
      picture.alt = input.dataset.previewWords.replace("{file}", file.name);
      picture.src = URL.createObjectURL(file);
      holder.append(picture);
    }
  };

  // One tap is one tap: a form on its way is not sent again, and its button shows that it is on its way.
  const underWay = new WeakSet();
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    if (underWay.has(form)) { event.preventDefault(); return; }
    underWay.add(form);
    event.submitter?.setAttribute("aria-busy", "true");
  });
  window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });

  document.addEventListener("change", (event) => {
    if (event.target.matches("input[type=file][data-preview-words]")) preview(event.target);
  });

  // The menu closes when one taps beside it, or with Escape.
  document.addEventListener("click", (event) => {
    document.querySelectorAll("details.menu[open]").forEach((menu) => {
      if (!menu.contains(event.target)) menu.open = false;
    });
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    document.querySelectorAll("details.menu[open]").forEach((menu) => {
      menu.open = false;
      menu.querySelector("summary").focus();
    });
  });

  // What was unfolded at the foot of a screen comes into view.
  document.addEventListener("toggle", (event) => {
    const more = event.target;
    if (more.open && more.closest("#more")) more.scrollIntoView({ block: "start" });
  }, true);

  // What went wrong on the way is said, never swallowed; what was typed still stands on the page, which has the words.
  const lost = (which, value) => {
    const line = document.getElementById("lost");
    line.textContent = line.dataset[`${which}Words`].replace("{value}", value);
    line.hidden = false;
  };
  document.addEventListener("htmx:sendError", () => lost("away"));
  document.addEventListener("htmx:timeout", () => lost("late"));
  document.addEventListener("htmx:responseError", (event) => {
    const { status, responseText } = event.detail.xhr;
    const said = new DOMParser().parseFromString(responseText, "text/html").querySelector("main h1");
    if (said) lost("refused", said.textContent); else lost("status", status);
  });
  document.addEventListener("htmx:beforeRequest", () => { document.getElementById("lost").hidden = true; });
  document.addEventListener("htmx:afterSettle", (event) => toFirstFault(event.detail.elt));
  document.addEventListener("htmx:afterRequest", (event) => { underWay.delete(event.detail.elt); });

  document.addEventListener("DOMContentLoaded", () => toFirstFault(document));
})();
