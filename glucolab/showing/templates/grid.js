function render({ model, el }) {
  el.classList.add("gl-links-box");
  el.setAttribute("data-lm-suppress-shortcuts", "true");
  const buttons = () => [...el.querySelectorAll("button[data-cell]")];
  const mark = () => {
    const all = buttons(), chosen = all.find((one) => one.dataset.cell === model.get("chosen"));
    for (const one of all) {
      one.setAttribute("aria-pressed", String(one === chosen));
      one.tabIndex = one === (chosen ?? all[0]) ? 0 : -1;
    }
  };
  const draw = () => { el.innerHTML = model.get("markup"); mark(); };
  const beside = (one, key) => {
    const rows = [...el.querySelectorAll("[role=row]")].map((row) => [...row.querySelectorAll("button")]).filter((row) => row.length);
    const y = rows.findIndex((row) => row.includes(one)), x = rows[y].indexOf(one);
    const [dx, dy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[key] ?? [0, 0];
    return rows[y + dy]?.[x + dx];
  };
  const press = (event) => {
    const one = event.target.closest("button[data-cell]");
    if (!one) return;
    model.set("chosen", one.dataset.cell);
    model.save_changes();
  };
  const move = (event) => {
    const one = event.target.closest("button[data-cell]");
    if (!one || !event.key.startsWith("Arrow")) return;
    event.preventDefault();
    event.stopPropagation();
    const next = beside(one, event.key);
    if (!next) return;
    one.tabIndex = -1;
    next.tabIndex = 0;
    next.focus();
  };
  el.addEventListener("click", press);
  el.addEventListener("keydown", move);
  model.on("change:markup", draw);
  model.on("change:chosen", mark);
  draw();
}
export default { render };
