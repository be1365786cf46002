// Zoom by buttons, by Ctrl and the wheel, and by two fingers; the frame around the picture scrolls.

const LARGEST = 4; // pixels to the mm of cloth
const SCROLLBAR = 18;

export function zoomable(scroller, svg) {
  const view = { perMm: 1, scale, zoom, showWhole: () => scale(smallest()) };
  const tallest = () => parseFloat(getComputedStyle(scroller).maxHeight) - SCROLLBAR;
  const box = () => svg.viewBox.baseVal;
  const smallest = () => Math.min(scroller.clientWidth / box().width, tallest() / box().height);

  function scale(perMm = view.perMm) {
    svg.style.width = `${box().width * perMm}px`;
    svg.style.height = `${box().height * perMm}px`;
    view.perMm = perMm;
  }

  // What lies under the pointer, or in the middle of the frame, stays there.
  function zoom(factor, clientX, clientY) {
    const frame = scroller.getBoundingClientRect();
    const px = clientX === undefined ? frame.width / 2 : clientX - frame.left;
    const py = clientY === undefined ? frame.height / 2 : clientY - frame.top;
    const x = (scroller.scrollLeft + px) / view.perMm;
    const y = (scroller.scrollTop + py) / view.perMm;
    scale(Math.min(LARGEST, Math.max(smallest(), view.perMm * factor)));
    scroller.scrollLeft = x * view.perMm - px;
    scroller.scrollTop = y * view.perMm - py;
  }

  scroller.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    zoom(Math.exp(-event.deltaY / 300), event.clientX, event.clientY);
  }, { passive: false });

  let pinch = null;
  const apart = ([a, b]) => Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
  scroller.addEventListener("touchstart", ({ touches }) => {
    pinch = touches.length === 2 ? apart(touches) : null;
  }, { passive: true });
  scroller.addEventListener("touchmove", (event) => {
    const { touches } = event;
    if (!pinch || touches.length !== 2) return;
    event.preventDefault();
    const now = apart(touches);
    const middle = ["clientX", "clientY"].map((side) => (touches[0][side] + touches[1][side]) / 2);
    zoom(now / pinch, ...middle);
    pinch = now;
  }, { passive: false });

  view.perMm = tallest() / box().height;
  return view;
}
