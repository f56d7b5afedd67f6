// Enters a measurement by taps. A value is a whole number of its unit's smallest steps, so that nothing is rounded.
"use strict";
(() => {
  // Steps in one unit, how far the buttons jump (in steps), and whether the rest is chosen as a fraction.
  const UNITS = {
    // To 1/64 in, half of a rule's finest division, as readings are kept: a coarser step would round one by opening it.
    in: { per: 64, jumps: [640, 64], fraction: true },
    mm: { per: 10, jumps: [1000, 100, 10, 5, 1] },
    lb: { per: 10, jumps: [100, 10, 1] },
    N: { per: 2, jumps: [100, 20, 2, 1] },
    "%": { per: 10, jumps: [100, 10, 1] },
    turns: { per: 4, jumps: [4, 2, 1] },
  };
  const EIGHTH = UNITS.in.per / 8;
  const TYPED = /^(-?)(?:(\d+(?:[.,]\d+)?)(?: (?=\d+\/))?)?(?:(\d+)\/(\d+))?\s*([^\d\s.,/]*)$/;
  const dialog = document.getElementById("picker");
  if (!dialog || !dialog.showModal) return;
  const part = (selector) => dialog.querySelector(selector);
  let field = null;
  let unit = "";
  let steps = 0;
  let reference = 0;

  function read(text, wanted) {
    const found = TYPED.exec(text.trim());
    if (!found || (!found[2] && !found[3])) return null;
    const name = found[5] === "turn" ? "turns" : found[5];
    const meant = name || wanted;
    if (!UNITS[meant] || (wanted && meant !== wanted)) return null;
    const size = Number((found[2] ?? "0").replace(",", ".")) + (found[3] ? Number(found[3]) / Number(found[4]) : 0);
    return { unit: meant, steps: Math.round(size * UNITS[meant].per) * (found[1] ? -1 : 1) };
  }

  function fraction(top, bottom) {
    while (top && top % 2 === 0) [top, bottom] = [top / 2, bottom / 2];
    return top ? `${top}/${bottom}` : "";
  }

  function told(value) {
    const { per, fraction: parted } = UNITS[unit];
    const size = Math.abs(value);
    const whole = Math.floor(size / per);
    const rest = parted || unit === "turns" ? fraction(size % per, per) : "";
    const number = parted || unit === "turns" ? [whole || (rest ? "" : 0), rest].filter((one) => one !== "").join(" ") : String(size / per);
    return `${value < 0 ? "-" : ""}${number} ${unit}`;
  }

  function show() {
    part("output").textContent = told(steps);
    const off = steps - reference;
    part(".from").textContent = off ? `${off > 0 ? "+" : ""}${told(off)} ${part(".from").dataset.from}` : part(".from").dataset.same;
    const rest = Math.abs(steps) % UNITS.in.per;
    for (const button of dialog.querySelectorAll("fieldset button")) {
      const is = button.dataset.of === "eighths" ? rest - (rest % EIGHTH) : rest % EIGHTH;
      button.setAttribute("aria-pressed", String(Number(button.dataset.steps) === is));
    }
  }

  function button(text, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "plain";
    made.textContent = text;
    made.addEventListener("click", () => {
      act();
      show();
    });
    return made;
  }

  function choice(of, value) {
    const made = button(value ? fraction(value, UNITS.in.per) : "0", () => {
      const sign = steps < 0 ? -1 : 1;
      const size = Math.abs(steps);
      const rest = size % UNITS.in.per;
      const after = of === "eighths" ? value + (rest % EIGHTH) : rest - (rest % EIGHTH) + value;
      steps = sign * (size - rest + after);
    });
    made.dataset.of = of;
    made.dataset.steps = value;
    return made;
  }

  function open(input) {
    const base = read(input.dataset.pickFrom, "");
    if (!base) return;
    field = input;
    ({ unit, steps: reference } = base);
    steps = read(input.value, unit)?.steps ?? reference;
    const { jumps, fraction: parted, per } = UNITS[unit];
    part("h2").textContent = input.getAttribute("aria-label");
    const jump = (size, sign) => {
      const shown = size < per && unit === "turns" ? fraction(size, per) : size / per;
      return button(`${sign < 0 ? "−" : "+"}${shown}`, () => (steps += sign * size));
    };
    const turnSign = button("±", () => (steps = -steps));
    const down = jumps.map((size) => jump(size, -1));
    const up = jumps.map((size) => jump(size, 1));
    part(".jumps").className = `jumps ${{ 2: "two", 3: "three", 5: "five" }[jumps.length] ?? ""}`;
    if (jumps.length === 2) part(".jumps").replaceChildren(...down, turnSign, ...up.reverse());
    else part(".jumps").replaceChildren(...down, ...up, ...(unit === "mm" ? [turnSign] : []));
    for (const of of ["eighths", "rest"]) {
      const line = part(`.${of}`);
      line.hidden = !parted;
      // Thirty-seconds first; the halves between them in a line of their own.
      const values = of === "eighths" ? [0, 1, 2, 3, 4, 5, 6, 7].map((one) => one * EIGHTH) : [0, 2, 4, 6, 1, 3, 5, 7];
      line.querySelector("div").replaceChildren(...values.map((value) => choice(of, value)));
    }
    show();
    dialog.returnValue = "";
    dialog.showModal();
  }

  dialog.addEventListener("close", () => {
    if (dialog.returnValue === "use") {
      field.value = told(steps);
      for (const name of ["input", "change"]) field.dispatchEvent(new Event(name, { bubbles: true }));
    }
    if (dialog.returnValue === "type") {
      field.inputMode = "text";
      field.nextElementSibling.hidden = false;
      field.focus();
    }
  });

  const byTouch = matchMedia("(pointer: coarse)").matches;
  for (const input of document.querySelectorAll("input[data-pick-from]")) {
    if (input.disabled || input.matches(":disabled") || !read(input.dataset.pickFrom, "")) continue;
    const line = document.createElement("span");
    line.className = "with-picker";
    input.replaceWith(line);
    const opener = button("⅛", () => open(input));
    opener.setAttribute("aria-label", `${dialog.dataset.open}: ${input.getAttribute("aria-label")}`);
    line.append(input, opener);
    // A tap on the field itself opens it: the button is the way back for whoever chose to type.
    if (byTouch) {
      opener.hidden = true;
      input.inputMode = "none";
      input.addEventListener("click", () => input.inputMode === "none" && open(input));
    }
  }
})();
