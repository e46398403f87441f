// The planning panel: the trial as a form. Fields are updated in place, so that Tab never loses
// its way; what is wrong stands beside its field; trial.toml is written when asked, never unasked.

const HEADS = { trial: "Question", budget: "Budget", factor: "Factors", outcome: "Outcomes", held: "Kept constant", constraint: "Never run" };
const ONE = { factor: "factor", outcome: "outcome", held: "setting kept constant", constraint: "combination never run" };
const SEVERAL = Object.keys(ONE);
const NEW = {
  factor: { kind: "continuous" },
  outcome: { kind: "measured" },
  held: {},
  constraint: { kind: "forbidden" },
};
const QUIET_BEFORE_PLANS = 1200; // ms without typing, since comparing plans takes seconds

function render({ model, el }) {
  const panel = planningPanel(model);
  el.append(panel.root);
  return panel.close;
}

function planningPanel(model) {
  const form = model.get("form");
  const state = { fields: form.fields, sections: [], problems: [], clean: "", undo: null, shown: "", compared: "" };
  const ui = planFrame();
  keepKeys(ui.root);
  const mail = mailbox(model, (late) =>
    say(ui.late, late.some((one) => one.kind !== "compare") ? "The kernel does not answer. It may be busy; if it was restarted, run this cell again. Nothing of this form is written until it says so." : ""),
  );
  const desk = { state, ui, mail };
  takeForm(desk, form);
  ui.write.addEventListener("click", () => write(desk, null));
  const looking = window.setInterval(() => {
    if (document.visibilityState === "visible" && ui.root.isConnected && ui.root.offsetParent) lookAtFile(desk);
  }, 5000);
  return {
    root: ui.root,
    close() {
      window.clearInterval(looking);
      window.clearTimeout(state.checking);
      window.clearTimeout(state.comparing);
      mail.close();
    },
  };
}

function planFrame() {
  const ui = {
    title: make("h2", { class: "wb-title" }),
    plan: make("p", { class: "wb-quiet" }),
    saved: make("p", { class: "wb-saved", role: "status" }),
    write: make("button", { type: "button", class: "wb-button wb-main" }, "Write trial.toml"),
    late: make("div", { class: "wb-alert", role: "alert" }),
    changed: make("div", { class: "wb-ask", role: "group", "aria-label": "trial.toml was changed elsewhere" }),
    count: make("div", { class: "wb-alert", role: "status" }),
    form: make("div", { class: "wb-form" }),
    plans: make("div", { class: "wb-plans" }),
    detail: make("div", { class: "wb-detail" }),
  };
  ui.changed.hidden = true;
  ui.root = make(
    "section",
    { class: "workbench-panel wb-planning", "aria-label": "Planning panel" },
    make(
      "div",
      { class: "wb-head" },
      make("div", {}, make("p", { class: "wb-step" }, "Plan"), ui.title, ui.plan),
      make("div", { class: "wb-doing" }, ui.write, ui.saved),
    ),
    ui.late,
    ui.changed,
    ui.count,
    ui.form,
    ui.plans,
    ui.detail,
  );
  return ui;
}

// ---------------------------------------------------------------- the form

function takeForm(desk, form) {
  const { state, ui } = desk;
  state.sections = form.draft.map((one) => ({ section: one.section, texts: { ...one.texts }, fields: new Map() }));
  if (!state.sections.some((one) => one.section === "budget")) state.sections.splice(1, 0, { section: "budget", texts: {}, fields: new Map() });
  state.clean = key(desk);
  state.undo = null;
  say(ui.plan, form.plan);
  ui.changed.hidden = true;
  buildForm(desk);
  changed(desk);
}

const draftOf = ({ state }) => state.sections.map((one) => ({ section: one.section, texts: one.texts }));

const key = (desk) =>
  JSON.stringify(draftOf(desk).map((one) => [one.section, Object.entries(one.texts).filter((pair) => pair[1].trim()).sort()]));

function buildForm(desk) {
  const { state, ui } = desk;
  const groups = Object.keys(HEADS).map((section) => {
    const own = state.sections.filter((one) => one.section === section);
    const boxes = own.map((one, index) => sectionBox(desk, one, index));
    const add = SEVERAL.includes(section)
      ? make("button", { type: "button", class: "wb-button", onclick: () => addSection(desk, section) }, `Add a ${ONE[section]}`)
      : null;
    return make("div", { class: `wb-group wb-group-${section}` }, make("h3", {}, HEADS[section]), ...boxes, add);
  });
  put(ui.form, ...groups);
}

function nameOf(one, index) {
  return one.texts.name || one.texts.reason || `${ONE[one.section]} ${index + 1}`;
}

function sectionBox(desk, one, index) {
  one.fields = new Map();
  const legend = make("legend", { class: SEVERAL.includes(one.section) ? "" : "wb-unseen" }, SEVERAL.includes(one.section) ? nameOf(one, index) : HEADS[one.section]);
  one.legend = legend;
  one.index = index;
  const usual = make("div", { class: "wb-fields" });
  const more = make("div", { class: "wb-fields" });
  for (const field of desk.state.fields[one.section]) {
    const box = fieldBox(desk, one, field);
    (field.is_more ? more : usual).append(box);
  }
  const isSaid = desk.state.fields[one.section].some((field) => field.is_more && one.texts[field.key]);
  one.more = make("details", { open: isSaid && one.section !== "trial" }, make("summary", {}, "more"), more);
  one.more.hidden = !more.children.length;
  one.whole = make("p", { class: "wb-wrong", id: freshId("whole") });
  const remove = SEVERAL.includes(one.section)
    ? make("button", { type: "button", class: "wb-link", onclick: () => removeSection(desk, one) }, `Remove ${nameOf(one, index)}`)
    : null;
  one.remove = remove;
  const box = make("fieldset", { class: "wb-section", tabindex: "-1" }, legend, usual, one.more, one.whole, remove);
  one.box = box;
  showKinds(one);
  return box;
}

function fieldBox(desk, one, field) {
  const id = freshId("field");
  const wrong = make("p", { class: "wb-wrong", id: `${id}-wrong` });
  const hint = field.hint ? make("p", { class: "wb-hint", id: `${id}-hint` }, field.hint) : null;
  const box = inputFor(field, id);
  box.setAttribute("aria-describedby", `${id}-wrong${hint ? ` ${id}-hint` : ""}`);
  const text = one.texts[field.key] || "";
  if (field.kind === "flag") box.checked = text === "yes";
  else box.value = text || (field.kind === "choice" ? field.choices[0] : "");
  const label = make("label", { for: id }, field.label);
  const wrap = make("div", { class: `wb-field wb-field-${field.kind} wb-key-${field.key}` }, label, box, hint, wrong);
  one.fields.set(field.key, { field, box, wrong, wrap });
  const take = () => {
    one.texts[field.key] = field.kind === "flag" ? (box.checked ? "yes" : "") : box.value;
    if (field.key === "kind") showKinds(one);
    if (field.key === "name" || field.key === "reason") {
      if (SEVERAL.includes(one.section)) {
        say(one.legend, nameOf(one, one.index));
        say(one.remove, `Remove ${nameOf(one, one.index)}`);
      }
    }
    changed(desk);
  };
  box.addEventListener("input", take);
  box.addEventListener("change", take);
  return wrap;
}

function inputFor(field, id) {
  if (field.kind === "choice") return make("select", { id }, ...field.choices.map((word) => make("option", { value: word }, word || "–")));
  if (field.kind === "flag") return make("input", { id, type: "checkbox" });
  if (field.kind === "lines" || field.kind === "long") return make("textarea", { id, rows: 2 });
  return make("input", { id, type: "text", inputmode: field.kind === "number" ? "decimal" : "text", autocomplete: "off", spellcheck: "false" });
}

function showKinds(one) {
  for (const { field, wrap } of one.fields.values()) {
    wrap.hidden = field.of.length > 0 && !field.of.includes(one.texts.kind || "");
  }
}

function addSection(desk, section) {
  const { state } = desk;
  const one = { section, texts: { ...NEW[section] }, fields: new Map() };
  state.sections.push(one);
  buildForm(desk);
  one.box.querySelector("input").focus();
  changed(desk);
}

function removeSection(desk, one) {
  const { state } = desk;
  const own = state.sections.filter((other) => other.section === one.section);
  const next = own[own.indexOf(one) + 1] || own[own.indexOf(one) - 1];
  state.sections = state.sections.filter((other) => other !== one);
  buildForm(desk);
  if (next) next.box.focus();
  changed(desk);
}

// ---------------------------------------------------------------- live answers

function changed(desk) {
  const { state, ui } = desk;
  const trial = state.sections.find((one) => one.section === "trial");
  say(ui.title, (trial && trial.texts.title) || "A trial without a title");
  const isClean = key(desk) === state.clean;
  ui.write.disabled = isClean;
  say(ui.saved, isClean ? "as trial.toml says" : "changed, not written yet");
  window.clearTimeout(state.checking);
  state.checking = window.setTimeout(() => check(desk), 250);
}

function check(desk) {
  const { mail } = desk;
  const asked = key(desk);
  mail.send({ kind: "check", draft: draftOf(desk) }, (answer) => {
    if (asked !== key(desk)) return;
    showProblems(desk, answer.problems || [], answer.problem || "");
    window.clearTimeout(desk.state.comparing);
    if (!(answer.problems || []).length && !answer.problem) {
      desk.state.comparing = window.setTimeout(() => compare(desk), QUIET_BEFORE_PLANS);
    } else if (desk.state.rows) {
      desk.ui.plans.classList.add("wb-stale");
    }
  });
}

function showProblems(desk, problems, whole) {
  const { state, ui } = desk;
  state.problems = problems;
  const homeless = [];
  for (const one of state.sections) {
    const own = problems.filter((p) => p.section === one.section && p.index === (SEVERAL.includes(one.section) ? one.index : 0));
    for (const [name, { box, wrong, wrap }] of one.fields) {
      const words = own.filter((p) => p.key === name).map((p) => p.words).join(" ");
      say(wrong, words);
      wrap.classList.toggle("wb-is-wrong", Boolean(words));
      if (words) box.setAttribute("aria-invalid", "true");
      else box.removeAttribute("aria-invalid");
      if (words && wrap.closest("details")) wrap.closest("details").open = true;
    }
    say(one.whole, own.filter((p) => !one.fields.has(p.key)).map((p) => p.words).join(" "));
  }
  homeless.push(...problems.filter((p) => !state.sections.some((one) => one.section === p.section)).map((p) => p.words));
  if (whole) homeless.push(whole);
  const n = problems.length;
  say(ui.count, n ? `${n === 1 ? "1 problem" : `${n} problems`}: ${homeless.concat("see beside the fields").join(" ")}` : homeless.join(" "));
}

function compare(desk) {
  const { state, ui, mail } = desk;
  const asked = key(desk);
  if (asked === state.compared) return ui.plans.classList.remove("wb-stale");
  ui.plans.classList.add("wb-stale");
  ui.plans.setAttribute("aria-busy", "true");
  mail.send({ kind: "compare", draft: draftOf(desk) }, (answer) => {
    ui.plans.removeAttribute("aria-busy");
    if (asked !== key(desk)) return;
    state.compared = asked;
    state.rows = answer.rows || { plans: [], left_out: [], problem: answer.problem, asked: "" };
    ui.plans.classList.remove("wb-stale");
    showPlans(desk);
  });
}

// ---------------------------------------------------------------- plans

function showPlans(desk) {
  const { state, ui } = desk;
  const { plans, asked, problem, left_out: leftOut } = state.rows;
  if (!plans.length) return put(ui.plans, make("h3", {}, "Plans that fit"), make("p", { class: "wb-wrong" }, problem || "None."), (put(ui.detail), null));
  const chosen = plans.find((one) => one.name === state.shown) || plans.find((one) => one.recommended) || plans[0];
  state.shown = chosen.name;
  const has = (name) => plans.some((one) => one[name] && one[name] !== "0");
  const outcomes = plans[0].found.map((one) => one.outcome);
  const heads = ["plan", "runs", ...(has("resets") ? ["resets"] : []), ...(has("days") ? ["days"] : []), ...(has("cost") ? ["cost"] : []), ...outcomes.map((one) => `found in ${one}`), "mean known to, sd", "model, error df", "what it gives up", "take it?"];
  const rows = plans.map((one) => planRow(desk, one, { has, chosen }));
  const list = leftOut.length
    ? make("details", {}, make("summary", {}, `Looked at and left out (${leftOut.length})`), make("ul", { class: "wb-list" }, ...leftOut.map(([name, why]) => make("li", {}, make("b", {}, name), ` ${why}`))))
    : null;
  put(
    ui.plans,
    make("h3", {}, "Plans that fit"),
    make("p", { class: "wb-quiet" }, asked),
    make("div", { class: "wb-wide", tabindex: "0", role: "region", "aria-label": "Plans side by side" }, make("table", { class: "wb-table" }, make("caption", { class: "wb-unseen" }, "Plans that fit, side by side"), make("thead", {}, make("tr", {}, ...heads.map((word, i) => make("th", { scope: "col", class: i > 0 && i < heads.length - 3 ? "wb-n" : "" }, word)))), make("tbody", {}, ...rows))),
    list,
  );
  showDetail(desk, chosen);
}

function planRow(desk, one, { has, chosen }) {
  const pick = make(
    "button",
    { type: "button", class: "wb-link", "aria-pressed": String(one === chosen), onclick: () => { desk.state.shown = one.name; showPlans(desk); desk.ui.plans.querySelector('[aria-pressed="true"]').focus(); } },
    one.name,
  );
  const found = one.found.map((f) => make("td", { class: "wb-n" }, f.verdict ? make("span", { class: `wb-v wb-v-${f.verdict}` }, `${f.verdict === "meets" ? "✓" : "✕"} ${f.size}`) : f.size));
  const number = (words) => make("td", { class: "wb-n" }, String(words));
  return make(
    "tr",
    { class: one === chosen ? "wb-chosen" : "" },
    make("th", { scope: "row" }, pick),
    number(one.runs),
    has("resets") ? number(one.resets) : null,
    has("days") ? number(one.days || "not known") : null,
    has("cost") ? number(one.cost || "not known") : null,
    ...found,
    number(one.known_to),
    make("td", {}, `${one.carries}, ${one.error_df}`),
    make("td", { class: "wb-words" }, one.gives_up.replace(/^It gives up /, "").replace(/\.$/, "")),
    make("td", { class: "wb-words" }, one.recommended ? make("span", { class: "wb-v wb-v-meets" }, "✓ recommended") : one.why),
  );
}

function showDetail(desk, one) {
  const { ui } = desk;
  const said = make("p", { role: "status", class: "wb-saved" });
  const take = make("button", { type: "button", class: "wb-button wb-main", onclick: () => takePlan(desk, one, said) }, `Take ${one.name}`);
  const other = desk.state.rows.plans.find((plan) => plan.name === desk.state.beside);
  const beside = make("select", { id: freshId("beside") }, make("option", { value: "" }, "–"), ...desk.state.rows.plans.filter((plan) => plan !== one).map((plan) => make("option", { value: plan.name }, plan.name)));
  beside.value = other && other !== one ? other.name : "";
  beside.addEventListener("change", () => {
    desk.state.beside = beside.value;
    showDetail(desk, one);
    ui.detail.querySelector("select").focus();
  });
  const shown = [one, ...(other && other !== one ? [other] : [])];
  put(
    ui.detail,
    make("div", { class: "wb-tools" }, take, make("label", { class: "wb-label", for: beside.id }, "side by side with"), beside),
    said,
    make("div", { class: "wb-two" }, ...shown.map((plan) => planFigures(plan))),
  );
}

function planFigures(one) {
  return make(
    "div",
    { class: "wb-one" },
    make("h3", {}, one.name),
    make("p", {}, `${one.why} ${one.gives_up}`),
    make("p", {}, one.joined.length ? aliasWords(one) : `No two effects share more than a quarter; the largest overlap is ${one.largest}.`),
    one.joined.length ? aliasArcs(one) : null,
    one.precision ? precisionTable(one.precision) : null,
  );
}

function aliasWords(one) {
  const whole = one.joined.filter((pair) => pair.is_whole).length;
  const partly = one.joined.length - whole;
  return `${whole ? `${whole} ${whole === 1 ? "pair is" : "pairs are"} one number for both. ` : ""}${partly ? `${partly} ${partly === 1 ? "pair shares" : "pairs share"} more than a quarter; the largest overlap is ${one.largest}.` : ""}`;
}

// Names in a column; an arc joins two effects that share information (thick: one number for both).
function aliasArcs(one) {
  const row = 24;
  const width = 420;
  const names = 230;
  const place = new Map(one.effects.map((name, i) => [name, row * i + 16]));
  const words = one.effects.map((name) => drawn("text", { x: names - 8, y: place.get(name) + 5, class: "wb-svg-word", "text-anchor": "end" }, name));
  const longest = Math.max(...one.joined.map((pair) => Math.abs(place.get(pair.one) - place.get(pair.other))), 1);
  const arcs = one.joined.map((pair) => {
    const [a, b] = [place.get(pair.one), place.get(pair.other)];
    const bend = names + 30 + (150 * Math.abs(a - b)) / longest;
    const arc = drawn("path", { d: `M ${names} ${a} C ${bend} ${a}, ${bend} ${b}, ${names} ${b}`, class: pair.is_whole ? "wb-arc wb-arc-whole" : "wb-arc wb-arc-part" });
    arc.append(drawn("title", {}, `${pair.one} and ${pair.other}: ${pair.is_whole ? "one number for both" : pair.size.toFixed(2)}`));
    return arc;
  });
  const label = one.joined.map((pair) => `${pair.one} and ${pair.other}: ${pair.is_whole ? "one number for both" : pair.size.toFixed(2)}`).join("; ");
  return drawn("svg", { viewBox: `0 0 ${width} ${row * one.effects.length + 8}`, role: "img", "aria-label": `Effects that share information. ${label}`, class: "wb-arcs" }, ...words, ...arcs);
}

function precisionTable(grid) {
  const shade = (word) => Math.min(5, Math.max(0, Math.floor((1 - Number(word)) * 8)));
  return make(
    "table",
    { class: "wb-table wb-precision" },
    make("caption", {}, "How well the mean is known: standard error, in units of the scatter"),
    make("thead", {}, make("tr", {}, make("th", { scope: "col" }, `${grid.y} ↓, ${grid.x} →`), ...grid.across.map((word) => make("th", { scope: "col", class: "wb-n" }, word)))),
    make("tbody", {}, ...grid.rows.map((cells, i) => make("tr", {}, make("th", { scope: "row" }, grid.up[i]), ...cells.map((word) => make("td", { class: `wb-n wb-shade-${shade(word)}` }, word))))),
    grid.held ? make("tfoot", {}, make("tr", {}, make("td", { colspan: grid.across.length + 1, class: "wb-quiet" }, `Others at ${grid.held}.`))) : null,
  );
}

function takePlan(desk, one, said) {
  const { state, mail, ui } = desk;
  if (key(desk) !== state.clean) return say(said, "Write trial.toml first: the plan is made from the file.");
  say(said, "making the plan …");
  mail.send({ kind: "take", name: one.name }, (answer) => {
    say(said, answer.said || answer.problem);
    if (answer.plan) say(ui.plan, answer.plan);
  });
}

// ---------------------------------------------------------------- the file

function write(desk, undo) {
  const { mail, ui, state } = desk;
  say(ui.saved, "writing …");
  const sent = key(desk);
  mail.send({ kind: "write", draft: draftOf(desk), undo }, (answer) => {
    if (answer.problem) {
      say(ui.saved, `Not written. ${answer.problem}`);
    } else if (!answer.written) {
      say(ui.saved, "Not written: trial.toml was changed elsewhere.");
      askAboutChange(desk, answer.changes);
    } else {
      state.clean = sent;
      ui.changed.hidden = true;
      say(ui.plan, answer.plan);
      ui.write.disabled = key(desk) === sent;
      say(ui.saved, `trial.toml written ${new Date().toTimeString().slice(0, 8)}`);
    }
  });
}

function lookAtFile(desk) {
  const { mail, state, ui } = desk;
  mail.send({ kind: "look" }, (answer) => {
    if (answer.problem) return say(ui.count, answer.problem);
    if (!answer.changes.length) {
      ui.changed.hidden = true;
      return null;
    }
    if (key(desk) === state.clean) return reread(desk, `trial.toml was changed elsewhere and is shown anew: ${answer.changes.join("; ")}.`);
    return askAboutChange(desk, answer.changes);
  });
}

function reread(desk, words) {
  desk.mail.send({ kind: "reread" }, (answer) => {
    if (answer.problem) return say(desk.ui.saved, answer.problem);
    takeForm(desk, answer.form);
    return say(desk.ui.saved, words);
  });
}

function askAboutChange(desk, changes) {
  const { ui } = desk;
  const words = `trial.toml was changed elsewhere: ${changes.join("; ")}.`;
  if (!ui.changed.hidden && ui.changed.dataset.words === words) return;
  ui.changed.dataset.words = words;
  ui.changed.hidden = false;
  put(
    ui.changed,
    make("p", { role: "alert" }, words),
    make(
      "div",
      { class: "wb-tools" },
      make("button", { type: "button", class: "wb-button", onclick: () => reread(desk, "as trial.toml says") }, "Take the file, drop what I changed here"),
      make("button", { type: "button", class: "wb-button", onclick: () => write(desk, changes) }, "Write this form and undo that change"),
    ),
  );
}

export default { render };
