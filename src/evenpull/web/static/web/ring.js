/* The pulls of a ring under a slider. Without this file the number field and its button do the same. */
"use strict";
for (const side of document.querySelectorAll("figure[data-ring]")) {
  const data = JSON.parse(document.getElementById("ring-data-" + side.dataset.ring).textContent);
  const last = data.loads.length - 1;
  const svg = side.querySelector("svg.ring"), form = side.querySelector("form.pulls");
  const number = form.querySelector("input[type=number]");
  const bars = [...svg.querySelectorAll("line.bar")].map((line) => {
    const at = (name) => Number(line.getAttribute(name));
    const x = at("x1"), y = at("y1"), box = svg.viewBox.baseVal.width / 2;
    const low = Math.hypot(x - box, y - box);
    return { line, x, y, ux: (x - box) / low, uy: (y - box) / low, low };
  });
  const digits = new Map([...svg.querySelectorAll("text.figure")].map((text) => [Number(text.dataset.bolt), text]));
  const decimals = [...digits.values()].some((text) => text.textContent.includes(".")) ? 1 : 0;
  const rows = new Map([...side.querySelectorAll("ol.loads li")].map((row) => [Number(row.dataset.bolt), row]));

  const field = document.createElement("div");
  field.className = "slider";
  const label = document.createElement("label"), slider = document.createElement("input");
  const back = document.createElement("button"), on = document.createElement("button");
  slider.type = "range"; slider.min = "0"; slider.max = String(last); slider.value = number.value;
  slider.id = "slide_" + side.dataset.ring;
  label.htmlFor = slider.id; label.textContent = "Pull";
  for (const [button, text, name] of [[back, "‹", "One pull back"], [on, "›", "One pull on"]]) {
    button.type = "button"; button.className = "plain"; button.textContent = text; button.setAttribute("aria-label", name);
  }
  const said = document.createElement("output");
  said.htmlFor = slider.id; said.className = "small";
  field.append(label, back, slider, on, said);
  form.before(field);
  form.hidden = true;

  function show(pull) {
    const loads = data.loads[pull], pulled = new Set(data.bolts[pull]);
    bars.forEach((bar, index) => {
      const more = data.reach * loads[index] / 1000 / data.top;
      bar.line.setAttribute("x2", (bar.x + more * bar.ux).toFixed(1));
      bar.line.setAttribute("y2", (bar.y + more * bar.uy).toFixed(1));
    });
    for (const [bolt, text] of digits) text.textContent = (loads[bolt - 1] / 10).toFixed(decimals);
    for (const group of svg.querySelectorAll("g.bolt")) {
      const active = pulled.has(Number(group.dataset.bolt)), text = group.querySelector("text");
      group.classList.toggle("pulled", active);
      group.querySelector(".halo").setAttribute("stroke-width", active ? "2.4" : "0");
      group.querySelector(".head").setAttribute("fill", active ? "#1c2730" : "#fff");
      if (text) text.setAttribute("fill", active ? "#fff" : "#1c2730");
    }
    for (const [bolt, row] of rows) {
      row.querySelector(".kn").textContent = (loads[bolt - 1] / 1000 * data.target / 1000).toFixed(1) + " kN";
      row.querySelector(".share").textContent = (loads[bolt - 1] / 10).toFixed(1) + " %";
    }
    svg.querySelector(".said").textContent = data.said[pull];
    said.textContent = data.said[pull];
    svg.setAttribute("aria-label", data.said[pull] + ". Predicted, not measured; interaction only. Load of each bolt in % of the target: " +
      loads.map((load, index) => (index + 1) + ": " + Math.round(load / 10)).join(", ") + ".");
    slider.value = number.value = String(pull);
    slider.setAttribute("aria-valuetext", data.said[pull]);
    back.disabled = pull === 0; on.disabled = pull === last;
    for (const other of document.querySelectorAll("input[type=hidden][name=pull_" + side.dataset.ring + "]")) other.value = String(pull);
  }
  slider.addEventListener("input", () => show(Number(slider.value)));
  back.addEventListener("click", () => show(Math.max(Number(slider.value) - 1, 0)));
  on.addEventListener("click", () => show(Math.min(Number(slider.value) + 1, last)));
  show(Number(number.value));
}
