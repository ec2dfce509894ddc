// Drawing sideways over the picture of a curve looks closer: the server draws that stretch anew from every point of it.
const plot = document.getElementById("curve-plot");
const svg = plot && plot.querySelector("svg");
if (svg) {
  const at = (event) => {
    const box = svg.getBoundingClientRect();
    const x = (event.clientX - box.left) / box.width * svg.viewBox.baseVal.width;
    return Math.min(Math.max(x, Number(svg.dataset.left)), Number(svg.dataset.right));
  };
  const angle = (x) => Number(svg.dataset.x0) +
    (x - Number(svg.dataset.left)) / (Number(svg.dataset.right) - Number(svg.dataset.left)) *
    (Number(svg.dataset.x1) - Number(svg.dataset.x0));
  const shade = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  shade.setAttribute("class", "looked-at");
  shade.setAttribute("y", "0");
  shade.setAttribute("height", svg.viewBox.baseVal.height);
  let from = null;
  svg.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    from = at(event);
    svg.setPointerCapture(event.pointerId);
    svg.append(shade);
    shade.setAttribute("width", "0");
    event.preventDefault();
  });
  svg.addEventListener("pointermove", (event) => {
    if (from === null) return;
    const to = at(event);
    shade.setAttribute("x", Math.min(from, to));
    shade.setAttribute("width", Math.abs(to - from));
  });
  svg.addEventListener("pointerup", (event) => {
    if (from === null) return;
    const [low, high] = [from, at(event)].sort((a, b) => a - b);
    from = null;
    shade.remove();
    if (high - low > 8) location.href = `${plot.dataset.zoom}?from=${angle(low).toFixed(2)}&to=${angle(high).toFixed(2)}`;
  });
  svg.addEventListener("pointercancel", () => { from = null; shade.remove(); });
}
