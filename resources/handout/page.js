"use strict";
// Steps through the lines of a lesson. Every position stands in the page; no rule of chess is here.
const SVG = "http://www.w3.org/2000/svg";
const NAMES = { p: "pawn", n: "knight", b: "bishop", r: "rook", q: "queen", k: "king" };
const data = JSON.parse(document.getElementById("lines").textContent);

function corner(square, flipped) {
  let column = square % 8, row = 7 - Math.floor(square / 8);
  if (flipped) { column = 7 - column; row = 7 - row; }
  return [data.left + column * data.side, data.top + row * data.side];
}

function draw(board, placement, move, flipped) {
  board.replaceChildren();
  const put = (name, x, y, side) => {
    const use = document.createElementNS(SVG, "use");
    use.setAttribute("href", "#" + name);
    for (const [key, value] of Object.entries({ x, y, width: side, height: side })) use.setAttribute(key, value);
    board.append(use);
  };
  put(flipped ? "ground-turned" : "ground", 0, 0, 100);
  let square = 56;
  for (const letter of placement) {
    if (letter === "/") square -= 16;
    else if (letter >= "1" && letter <= "8") square += Number(letter);
    else {
      const small = letter.toLowerCase();
      put((letter === small ? "black-" : "white-") + NAMES[small], ...corner(square, flipped), data.side);
      square += 1;
    }
  }
  for (const end of move || []) {
    const [x, y] = corner(end, flipped), s = data.side, a = s * .05, b = s * .22, c = s - a;
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("d", `M${x + a} ${y + a + b}V${y + a}H${x + a + b}M${x + c} ${y + c - b}V${y + c}H${x + c - b}`);
    path.setAttribute("class", "ticks");
    path.setAttribute("style", "fill:none;stroke:#23211e;stroke-width:.7");
    board.append(path);
  }
}

document.querySelectorAll(".lines").forEach((part) => {
  const lines = data.lines[Number(part.dataset.lines)];
  const board = part.querySelector(".board"), said = part.querySelector(".said");
  const moves = part.querySelectorAll(".move"), keys = part.querySelectorAll(".keys button");
  const after = (step) => lines.steps.map((one, n) => n).filter((n) => lines.steps[n].p === step);
  let here = -1, flipped = lines.flipped;

  function show(step) {
    here = step;
    const now = step < 0 ? { f: lines.start, m: null, s: "The position at the start." } : lines.steps[step];
    draw(board, now.f, now.m, flipped);
    board.setAttribute("aria-label", now.a || lines.label);
    board.dataset.placement = now.f;
    said.textContent = now.s;
    moves.forEach((move) => {
      if (Number(move.dataset.step) === step) move.setAttribute("aria-current", "step");
      else move.removeAttribute("aria-current");
    });
    const [start, back, next, end] = keys;
    // Not really disabled: a key that has the focus would lose it, and the arrows with it.
    const rest = (key, idle) => key.setAttribute("aria-disabled", idle);
    rest(start, step < 0);
    rest(back, step < 0);
    rest(next, after(step).length === 0);
    rest(end, after(step).length === 0);
  }
  const act = {
    start: () => show(-1),
    back: () => { if (here >= 0) show(lines.steps[here].p); },
    next: () => { const on = after(here); if (on.length) show(on[0]); },
    end: () => { let to = here; while (after(to).length) to = after(to)[0]; show(to); },
    turn: () => { flipped = !flipped; show(here); },
    // Another move at the same place of the line.
    other: (by) => {
      if (here < 0) return;
      const beside = after(lines.steps[here].p);
      show(beside[(beside.indexOf(here) + by + beside.length) % beside.length]);
    },
  };
  keys.forEach((key) => key.addEventListener("click", () => act[key.dataset.act]()));
  moves.forEach((move) => move.addEventListener("click", () => show(Number(move.dataset.step))));
  part.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const wanted = { ArrowRight: act.next, ArrowLeft: act.back, Home: act.start, End: act.end,
      ArrowDown: () => act.other(1), ArrowUp: () => act.other(-1), v: act.turn, V: act.turn }[event.key];
    if (!wanted) return;
    event.preventDefault();
    wanted();
  });
  show(-1);
});
