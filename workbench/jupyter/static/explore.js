// The explorer: every setting a field, every outcome a ladder. The newest setting wins: what is
// typed while an answer is on its way is asked as soon as it is there.

function render({ model, el }) {
  const panel = explorePanel(model);
  el.append(panel.root);
  return panel.close;
}

function explorePanel(model) {
  const start = model.get("start");
  const state = { start, at: {}, box: {}, busy: false, again: false, boxBusy: false, boxAgain: false, boxes: [] };
  for (const one of start.fields) {
    state.at[one.name] = one.value;
    if (!one.choices.length) state.box[one.name] = [one.low, one.high];
  }
  const ui = exploreFrame(start);
  keepKeys(ui.root);
  const mail = mailbox(model, (late) => say(ui.late, late.length ? "The kernel does not answer. It may be busy; if it was restarted, run this cell again." : ""));
  const desk = { state, ui, mail };
  put(ui.settings, ...start.fields.map((one) => settingRow(desk, one)));
  if (start.look.looks) showLooks(desk, start.look.looks);
  if (start.has_window) askBox(desk);
  return { root: ui.root, close: () => mail.close() };
}

function exploreFrame(start) {
  const ui = {
    late: make("div", { class: "wb-alert", role: "alert" }),
    settings: make("tbody", {}),
    boxes: make("div", { class: "wb-boxes", role: "status" }),
    looks: make("div", { class: "wb-two" }),
  };
  const heads = ["setting", "set at", "tried", "window from", "to"];
  ui.root = make(
    "section",
    { class: "workbench-panel wb-explore", "aria-label": "Explorer" },
    make("p", { class: "wb-step" }, "Explore"),
    make("h2", {}, "Where do new parts fall at these settings?"),
    make("p", { class: "wb-quiet" }, `Arrow keys move a setting by its setting error. Asked: ${(100 * start.share).toLocaleString("en")} % of new parts, with ${(100 * start.confidence).toLocaleString("en")} % confidence.`),
    ui.late,
    make("div", { class: "wb-wide" }, make("table", { class: "wb-table wb-settings" }, make("caption", { class: "wb-unseen" }, "Settings"), make("thead", {}, make("tr", {}, ...heads.map((word) => make("th", { scope: "col" }, word)))), ui.settings)),
    ui.boxes,
    ui.looks,
  );
  return ui;
}

function settingRow(desk, one) {
  const { state } = desk;
  const wrong = make("p", { class: "wb-wrong", id: freshId("slip") });
  one.wrong = wrong;
  const unit = one.unit ? ` in ${one.unit}` : "";
  const change = (words) => {
    state.at[one.name] = words;
    ask(desk);
  };
  let set = null;
  if (one.choices.length) {
    set = make("select", { "aria-label": one.name }, ...one.choices.map((word) => make("option", { value: word }, word)));
    set.value = one.value;
    set.addEventListener("change", () => change(set.value));
  } else {
    const box = stepper(`${one.name}${unit}`, one, one.value, change);
    box.input.setAttribute("aria-describedby", wrong.id);
    set = box.root;
    one.input = box.input;
  }
  const sides = [0, 1].map((end) => {
    if (one.choices.length) return null;
    const word = end ? "high" : "low";
    const box = stepper(`${word} side of the window of ${one.name}${unit}`, one, state.box[one.name][end], (words) => {
      state.box[one.name][end] = words;
      askBox(desk);
    });
    return box.root;
  });
  return make(
    "tr",
    {},
    make("th", { scope: "row" }, one.name, one.unit ? make("span", { class: "wb-quiet" }, ` ${one.unit}`) : null),
    make("td", {}, set, wrong),
    make("td", { class: "wb-quiet" }, one.tried),
    ...sides.map((side) => make("td", {}, side)),
  );
}

// A plain field with a button at each side; both and the arrow keys move it by one step.
function stepper(label, one, value, change) {
  const input = make("input", { type: "text", inputmode: "decimal", autocomplete: "off", "aria-label": label, class: "wb-number" });
  input.value = value;
  const places = Math.max(...[one.step, one.ends[0], one.ends[1]].map((number) => (String(Number(number.toPrecision(6))).split(".")[1] || "").length));
  const move = (direction) => {
    const now = Number(input.value.replace(",", ".").replace("−", "-"));
    const from = input.value.trim() && Number.isFinite(now) ? now : (one.ends[0] + one.ends[1]) / 2;
    const to = Math.min(one.ends[1], Math.max(one.ends[0], from + direction * one.step));
    input.value = to.toFixed(places);
    change(input.value);
  };
  input.addEventListener("input", () => change(input.value));
  input.addEventListener("keydown", (event) => {
    if (event.key !== "ArrowUp" && event.key !== "ArrowDown") return;
    event.preventDefault();
    move(event.key === "ArrowUp" ? 1 : -1);
  });
  const button = (direction, sign, word) =>
    make("button", { type: "button", class: "wb-button wb-tiny", "aria-label": `${word} ${label}`, tabindex: "-1", onclick: () => move(direction) }, sign);
  return { input, root: make("div", { class: "wb-stepper" }, button(-1, "−", "lower"), input, button(1, "+", "raise")) };
}

// ---------------------------------------------------------------- asking

function ask(desk) {
  const { state, mail, ui } = desk;
  if (state.busy) {
    state.again = true;
    return;
  }
  state.busy = true;
  const began = performance.now();
  mail.send({ kind: "look", at: { ...state.at } }, (answer) => {
    state.busy = false;
    showSlips(desk, answer.slips || {});
    if (answer.looks) showLooks(desk, answer.looks);
    if (answer.problem) say(ui.late, answer.problem);
    ui.root.dataset.count = String(1 + Number(ui.root.dataset.count || 0));
    ui.root.dataset.took = String(Math.round(performance.now() - began));
    if (state.again) {
      state.again = false;
      ask(desk);
    }
  });
}

function askBox(desk) {
  const { state, mail } = desk;
  if (state.boxBusy) {
    state.boxAgain = true;
    return;
  }
  state.boxBusy = true;
  mail.send({ kind: "box", box: state.box, at: { ...state.at } }, (answer) => {
    state.boxBusy = false;
    if (answer.slips) put(desk.ui.boxes, ...Object.values(answer.slips).map((words) => make("p", { class: "wb-wrong" }, words)));
    if (answer.boxes) showBoxes(desk, answer.boxes);
    if (state.boxAgain) {
      state.boxAgain = false;
      askBox(desk);
    }
  });
}

function showSlips({ state }, slips) {
  for (const one of state.start.fields) {
    say(one.wrong, slips[one.name] || "");
    if (!one.input) continue;
    if (slips[one.name]) one.input.setAttribute("aria-invalid", "true");
    else one.input.removeAttribute("aria-invalid");
  }
}

// ---------------------------------------------------------------- showing

function verdictOf(one) {
  if (one.problem) return make("span", { class: "wb-v" }, "? open");
  const meets = one.verdict === "meets";
  return make("span", { class: `wb-v wb-v-${one.verdict}` }, meets ? "✓ meets what is asked" : "✕ misses what is asked");
}

function showBoxes({ ui }, boxes) {
  put(
    ui.boxes,
    ...boxes.map((one) =>
      make("p", {}, boxes.length > 1 ? make("b", {}, `${one.name}: `) : null, one.problem || one.sentence, " ", verdictOf(one)),
    ),
  );
}

function showLooks({ ui }, looks) {
  put(ui.looks, ...looks.map((one) => lookOf(one, looks.length > 1)));
}

function lookOf(one, isNamed) {
  const number = one.chance
    ? make(
        "div",
        { class: "wb-key" },
        make("b", {}, one.in_hundred),
        make("p", {}, `new parts meet everything, averaged over what is not known (${one.chance}). Assured: ${one.assured}. `, verdictOf(one)),
      )
    : null;
  return make(
    "div",
    { class: "wb-one" },
    isNamed ? make("h3", {}, one.name) : null,
    one.problem ? make("p", { class: "wb-wrong", role: "status" }, one.problem) : null,
    number,
    ...one.ladders.map(ladder),
  );
}

const WIDE = 640;
const LEFT = 10;
const AT = (place) => LEFT + place * (WIDE - 2 * LEFT);

// Bands: where half, 80 and 95 of 100 new parts fall; walls: limits, toothed on the side that fails.
function ladder(one) {
  const y = 26;
  const parts = [drawn("line", { x1: AT(0), x2: AT(1), y1: y, y2: y, class: "wb-rail" })];
  one.bands.forEach((band, i) => {
    const high = [8, 14, 20][i];
    parts.push(...bandOf(one, band, y, high));
  });
  if (!one.bands.length && one.mean_low !== null) {
    parts.push(drawn("rect", { x: AT(one.mean_low), y: y - 5, width: Math.max(1, AT(one.mean_high) - AT(one.mean_low)), height: 10, class: "wb-mean-band" }));
  }
  if (one.low_wall !== null) parts.push(...wall(AT(one.low_wall), y, -1));
  if (one.high_wall !== null) parts.push(...wall(AT(one.high_wall), y, 1));
  if (one.mean !== null) parts.push(drawn("path", { d: `M ${AT(one.mean)} ${y - 13} V ${y + 13}`, class: "wb-mean" }));
  for (const [place, word] of one.ticks) {
    parts.push(drawn("line", { x1: AT(place), x2: AT(place), y1: y + 14, y2: y + 18, class: "wb-tick" }));
    const text = drawn("text", { x: AT(place), y: y + 32, class: "wb-svg-quiet", "text-anchor": "middle" });
    text.append(word);
    parts.push(text);
  }
  const words = `${one.outcome}: ${one.words}. ${one.asks}${one.chance ? `; ${one.chance} of new parts meet it` : ""}.`;
  return make(
    "figure",
    { class: "wb-ladder" },
    make("figcaption", {}, make("b", {}, one.outcome), one.unit ? make("span", {}, `, ${one.unit}`) : null, make("span", { class: "wb-quiet" }, `  ${one.asks}`), one.chance ? make("span", { class: "wb-each" }, `${one.chance} meet it`) : null),
    drawn("svg", { viewBox: `0 0 ${WIDE} 62`, role: "img", "aria-label": words, class: "wb-rung-svg" }, ...parts),
    make("p", { class: "wb-quiet" }, one.words),
  );
}

function bandOf(one, band, y, high) {
  const found = [];
  const rect = (from, to, kind) => {
    if (to - from > 0.0005) found.push(drawn("rect", { x: AT(from), y: y - high / 2, width: AT(to) - AT(from), height: high, class: kind }));
  };
  const low = one.low_wall === null ? band.low : Math.min(band.high, Math.max(band.low, one.low_wall));
  const top = one.high_wall === null ? band.high : Math.max(low, Math.min(band.high, one.high_wall));
  rect(band.low, low, "wb-band wb-band-fails");
  rect(low, top, "wb-band");
  rect(top, band.high, "wb-band wb-band-fails");
  return found;
}

function wall(x, y, side) {
  const teeth = [-14, -8, -2, 4, 10].map((dy) => `M ${x} ${y + dy} l ${side * 6} 5`).join(" ");
  return [drawn("path", { d: `M ${x} ${y - 17} V ${y + 17}`, class: "wb-wall" }), drawn("path", { d: teeth, class: "wb-teeth" })];
}

export default { render };
