"use strict";
(() => {
  const name = "foamwright-plan:" + document.body.dataset.suit;
  const boxes = [...document.querySelectorAll("input[data-key]")];
  const steps = boxes.filter((box) => "step" in box.dataset);
  const at = (id) => document.getElementById(id);

  // Storage may be refused (private windows, files on some tablets): ticks then last as long as
  // the page, and the page says so.
  const refused = () => { at("not-kept").hidden = false; };
  const read = () => {
    try {
      const kept = JSON.parse(localStorage.getItem(name) || "[]");
      return new Set(Array.isArray(kept) ? kept : []);
    } catch (error) {
      if (!(error instanceof SyntaxError)) refused();
      return new Set();
    }
  };
  const keep = () => {
    const ticked = boxes.filter((box) => box.checked).map((box) => box.dataset.key);
    try {
      localStorage.setItem(name, JSON.stringify(ticked));
    } catch {
      refused();
    }
  };
  const show = () => {
    for (const box of steps) box.closest(".step").classList.toggle("done", box.checked);
    const done = steps.filter((box) => box.checked).length;
    at("done").value = done;
    at("bar").value = done;
    const next = steps.find((box) => !box.checked);
    at("next").hidden = !next;
    if (next) at("next").href = "#" + next.closest(".step").id;
  };
  const load = () => {
    const ticked = read();
    for (const box of boxes) box.checked = ticked.has(box.dataset.key);
    show();
  };

  document.addEventListener("change", (event) => {
    if (event.target.matches("input[data-key]")) { keep(); show(); }
  });
  window.addEventListener("storage", (event) => { if (event.key === name) load(); });
  at("clear").addEventListener("click", () => {
    if (!confirm("Clear all ticks of this plan?")) return;
    for (const box of boxes) box.checked = false;
    keep();
    show();
  });

  const large = at("large"), place = large.querySelector("div");
  document.addEventListener("click", (event) => {
    const picture = event.target.closest(".picture");
    if (picture) {
      place.replaceChildren(picture.querySelector("svg").cloneNode(true));
      large.setAttribute("aria-label", picture.getAttribute("aria-label"));
      large.showModal();
    } else if (event.target === large || place.contains(event.target)) {
      large.close();
    }
  });

  load();
  keep();  // tells at once, not after an hour of ticking, where nothing can be kept
})();
