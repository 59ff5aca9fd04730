const FIELDS = "input:not([type=checkbox]):not([type=radio]):not([type=file]), select";

const WAIT_MS = 40;

function read(form) {
  const texts = {};
  form.querySelectorAll(".gl-field").forEach((field) => {
    const name = [...field.classList].find((one) => one.startsWith("gl-of-")).slice("gl-of-".length);
    const control = field.querySelector("input, select");
    if (!control) return;
    if (control.tagName === "SELECT") texts[name] = String(control.selectedIndex);
    else texts[name] = control.type === "checkbox" ? String(control.checked) : control.value;
  });
  return texts;
}

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

  // what is typed reaches the kernel later than the press of a button does: presses wait until it has, in their order
  const waiting = [];
  const ask = () => model.send({ texts: read(form) });
  const answered = ({ same }) => {
    if (!same) {
      setTimeout(ask, WAIT_MS);
      return;
    }
    const button = waiting.shift();
    button.gl_in_step = true;
    button.click();
    button.gl_in_step = false;
    if (waiting.length) ask();
  };
  model.on("msg:custom", answered);
  const hold_back = (event) => {
    const button = event.target.closest("button");
    if (!button || button.gl_in_step) return;
    event.stopPropagation();
    event.preventDefault();
    if (button.classList.contains("gl-save") && waiting.includes(button)) return; // pressed twice, meant once
    waiting.push(button);
    if (waiting.length === 1) ask();
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
    const control = form?.querySelector(`.gl-of-${CSS.escape(model.get("going")[0])}`)?.querySelector("input, select");
    if (control) control.focus();
    else if (tries > 0) setTimeout(() => go(tries - 1), 50);
  };
  model.on("change:going", () => go(40));

  // drawn before it is placed, and not told when it is
  let frame = requestAnimationFrame(function find() {
    form = el.closest(".gl-form");
    if (!form) {
      frame = requestAnimationFrame(find);
      return;
    }
    form.addEventListener("focusin", keep_keys);
    form.addEventListener("click", hold_back, true);
    form.addEventListener("keydown", save, true); // ahead of the field's own, which lets it go no further
    watch.observe(form, { childList: true, subtree: true, attributeFilter: ["class"] });
    tell();
  });
  return () => {
    cancelAnimationFrame(frame);
    model.off("msg:custom", answered);
    watch.disconnect();
  };
}

export default { render };
