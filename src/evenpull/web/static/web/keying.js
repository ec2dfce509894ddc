/* One box at a time, by the keyboard alone. Without this file all boxes stand below each other. */
"use strict";
const form = document.getElementById("keying");
if (form) {
  const boxes = [...form.querySelectorAll("fieldset.box")], notes = document.getElementById("notes");
  const progress = form.querySelector(".progress"), keys = form.querySelector(".keys"), button = form.querySelector("button[type=submit]");
  const words = new Map(boxes.map((box) => [box.dataset.box, box.querySelector("legend").textContent]));
  const marks = { "/": "empty", "?": "cannot read", "+": "ticked" };
  const state = (box) => box.querySelector("select"), text = (box) => box.querySelector("input");
  let at = 0, asked = 0, sent = false;
  progress.hidden = keys.hidden = false;
  form.classList.add("one");

  function show(index) {
    at = Math.max(0, Math.min(index, boxes.length));
    boxes.forEach((box, i) => { box.hidden = i !== at; });
    button.hidden = at < boxes.length;
    if (at === boxes.length) {
      progress.textContent = "All " + boxes.length + " boxes are keyed. Enter keeps them; Shift+Enter goes back.";
      button.focus();
      return;
    }
    progress.textContent = (at + 1) + " of " + boxes.length;
    const next = boxes[at + 1];
    if (next) next.querySelector("img").loading = "eager";
    text(boxes[at]).focus(); text(boxes[at]).select();
  }

  function on(box) {
    const chosen = state(box), value = text(box).value.trim();
    if (value) chosen.value = "written";
    else if (chosen.value === "written") chosen.value = "";
    if (!chosen.value) { say([{ box: box.dataset.box, text: "key what is written, or / for nothing, ? for cannot read" }]); return; }
    check(box.dataset.box);
    show(at + 1);
  }

  function say(found) {
    notes.replaceChildren(...found.map((one) => {
      const row = document.createElement("p");
      row.className = "problem warning";
      row.textContent = (one.box ? (words.get(one.box) || one.box) + ": " : "") + one.text;
      return row;
    }));
  }

  async function check(name) {
    const mine = ++asked;
    try {
      const answer = await fetch(form.dataset.check, { method: "POST", body: new FormData(form), headers: { Accept: "application/json" } });
      if (!answer.ok || mine !== asked || sent) return;
      const found = (await answer.json()).notes;
      say(found.filter((one) => one.box === name || (!one.box && at === boxes.length)));
    } catch { if (!sent) say([{ box: "", text: "the checks do not answer; what is keyed is checked again when it is kept" }]); }
  }

  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.shiftKey) { event.preventDefault(); show(at - 1); return; }
    if (at === boxes.length) return;
    const box = boxes[at];
    if (event.key === "Enter") { event.preventDefault(); on(box); return; }
    const mark = marks[event.key];
    if (mark && event.target === text(box) && !text(box).value && !(mark === "ticked" && box.dataset.kind !== "tick")) {
      event.preventDefault(); state(box).value = mark; on(box);
    }
  });
  for (const box of boxes) text(box).addEventListener("input", () => { state(box).value = text(box).value.trim() ? "written" : ""; });
  form.addEventListener("submit", () => { sent = true; });
  const bad = boxes.findIndex((box) => box.classList.contains("bad"));
  show(bad < 0 ? 0 : bad);
}
