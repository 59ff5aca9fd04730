const FIELDS = "input:not([type=checkbox]):not([type=radio]):not([type=file]), select";

function set(element, name, value) {
  if (value === null) element.removeAttribute(name);
  else if (element.getAttribute(name) !== value) element.setAttribute(name, value);
}

function render({ model, el }) {
  el.id ||= `gl-keys-${Math.random().toString(36).slice(2)}`;
  let form = null;

  // a notebook takes keys for its cells unless it is told not to
  const keep_keys = (event) => event.target.setAttribute("data-lm-suppress-shortcuts", "true");

  const save = (event) => {
    if (event.key !== "Enter" || event.shiftKey || event.isComposing || !event.target.matches(FIELDS)) return;
    event.preventDefault();
    event.target.dispatchEvent(new Event("change", { bubbles: true }));
    event.target.closest(".gl-panel")?.querySelector("button.gl-save:not([disabled])")?.click();
  };

  // what is seen is heard: which button's fields are shown, and why a field is refused
  const tell = () => {
    form.querySelectorAll("button.gl-section").forEach((button) => {
      set(button, "aria-pressed", String(button.classList.contains("gl-chosen")));
    });
    form.querySelectorAll(".gl-field").forEach((field, place) => {
      const control = field.querySelector("input, select");
      const fault = field.querySelector(".gl-fault");
      if (!control || !fault) return;
      const refused = fault.textContent.trim() !== "";
      fault.id = `${el.id}-${place}`;
      set(control, "aria-invalid", refused ? "true" : null);
      set(control, "aria-describedby", refused ? fault.id : null);
    });
  };
  const watch = new MutationObserver(tell);

  const go = (tries) => {
    const control = form?.querySelector(`.gl-of-${CSS.escape(model.get("at")[0])}`)?.querySelector("input, select");
    if (control) control.focus();
    else if (tries > 0) setTimeout(() => go(tries - 1), 50);
  };
  model.on("change:at", () => go(40));

  // drawn before it is placed, and not told when it is
  let waiting = requestAnimationFrame(function find() {
    form = el.closest(".gl-form");
    if (!form) {
      waiting = requestAnimationFrame(find);
      return;
    }
    form.addEventListener("focusin", keep_keys);
    form.addEventListener("keydown", save, true); // ahead of the field's own, which lets it go no further
    watch.observe(form, { childList: true, subtree: true, attributeFilter: ["class"] });
    tell();
  });
  return () => {
    cancelAnimationFrame(waiting);
    watch.disconnect();
  };
}

export default { render };
