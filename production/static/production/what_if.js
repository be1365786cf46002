// A slider under each number of the what-if form; the number is what counts and can be typed.

const form = document.querySelector("#what-if form");

for (const number of form ? form.querySelectorAll("input[type=number]") : []) {
  const start = Number(number.value);
  if (start > 0) number.after(slider(number, start));
}

function slider(number, start) {
  const made = document.createElement("input");
  made.type = "range";
  made.className = "slider";
  made.min = Math.max(Number(number.min), Math.floor(start / 2));
  made.max = Math.min(number.max === "" ? Infinity : Number(number.max), Math.ceil(start * 2));
  made.step = start >= 20 ? 1 : 0.1;
  made.value = start;
  const label = form.querySelector(`label[for="${number.id}"]`);
  made.setAttribute("aria-label", `${label ? label.textContent.trim() : number.name}, slider`);
  // Its change event, when it is let go, reaches the form as that of the number does.
  made.addEventListener("input", () => { number.value = made.value; });
  number.addEventListener("input", () => { made.value = number.value; });
  return made;
}
