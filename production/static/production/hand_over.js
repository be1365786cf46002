// Signing on the screen: strokes of points between 0 and 1 go into a hidden field as they are
// drawn. Without this script the way "on the screen" stays hidden, and paper is signed.

const CLOSEST = 0.004; // points nearer to one another than this draw nothing new

const part = document.querySelector("[data-signing]");

if (part) {
  const field = part.querySelector("canvas");
  const kept = part.querySelector("input[name=signature]");
  const ways = [...part.querySelectorAll("input[name=signed]")];
  const onScreen = ways.find((way) => way.value === "screen");
  const clear = part.querySelector("[data-clear]");
  const told = part.querySelector("[data-told]");
  const pen = field.getContext("2d");
  let strokes = read(kept.value);
  let drawing = null;

  for (const hidden of part.querySelectorAll("[hidden]")) hidden.hidden = false;

  function read(text) {
    try {
      return text ? JSON.parse(text) : [];
    } catch {
      return []; // what cannot be read is not drawn; the site says so when it is sent
    }
  }

  function keep() {
    kept.value = onScreen.checked && strokes.length ? JSON.stringify(strokes) : "";
    clear.disabled = !strokes.length;
    told.textContent = strokes.length ? "Signed in the field." : "";
  }

  function draw() {
    pen.clearRect(0, 0, field.width, field.height);
    pen.lineWidth = 5;
    pen.lineCap = pen.lineJoin = "round";
    pen.globalAlpha = onScreen.checked || !strokes.length ? 1 : 0.3;
    for (const stroke of strokes) {
      pen.beginPath();
      const [first, ...rest] = stroke.map(([x, y]) => [x * field.width, y * field.height]);
      pen.moveTo(...first);
      for (const point of rest.length ? rest : [first]) pen.lineTo(...point);
      pen.stroke();
    }
  }

  function place(event) {
    const box = field.getBoundingClientRect();
    const within = (value) => Math.round(Math.min(1, Math.max(0, value)) * 1e4) / 1e4;
    return [within((event.clientX - box.left) / box.width), within((event.clientY - box.top) / box.height)];
  }

  function add(point) {
    const last = drawing.at(-1);
    if (last && Math.hypot(point[0] - last[0], point[1] - last[1]) < CLOSEST) return;
    drawing.push(point);
  }

  field.addEventListener("pointerdown", (event) => {
    if (!event.isPrimary || event.button > 0) return;
    event.preventDefault();
    field.setPointerCapture(event.pointerId);
    onScreen.checked = true;
    drawing = [place(event)];
    strokes.push(drawing);
    draw();
  });

  field.addEventListener("pointermove", (event) => {
    if (!drawing || !event.isPrimary) return;
    const passed = event.getCoalescedEvents?.() ?? [];
    for (const one of passed.length ? passed : [event]) add(place(one));
    draw();
  });

  for (const end of ["pointerup", "pointercancel"]) {
    field.addEventListener(end, (event) => {
      if (!drawing || !event.isPrimary) return;
      drawing = null;
      keep();
    });
  }

  clear.addEventListener("click", () => {
    strokes = [];
    onScreen.checked = false;
    keep();
    draw();
    told.textContent = "The field is empty again.";
  });

  for (const way of ways) {
    way.addEventListener("change", () => {
      keep();
      draw();
    });
  }

  keep();
  draw();
}
