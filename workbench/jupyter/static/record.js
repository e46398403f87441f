// The record panel: the run grid in run order. The journal on the disk is the truth; a cell counts
// as entered only when the kernel has answered that it is written.

const MARKS = { sending: "…", wrong: "✕", asks: "?", check: "!", ask: "?", note: "i" };
const WORDS = { check: "check", ask: "question", note: "note" };

function render({ model, el }) {
  const panel = recordPanel(model);
  el.append(panel.root);
  return panel.close;
}

function recordPanel(model) {
  const state = { sheet: model.get("sheet"), cells: new Map(), asks: [], wrong: new Map(), timers: [], run: 0, key: "", over: [] };
  const ui = frame(model, state);
  keepKeys(ui.root);
  const mail = mailbox(model, (late) => lateWords(ui, late));
  const desk = { model, state, ui, mail };
  buildGrid(desk);
  refresh(desk);
  const onSheet = () => {
    const shape = gridShape(state.sheet);
    state.sheet = model.get("sheet");
    if (gridShape(state.sheet) !== shape) buildGrid(desk);
    refresh(desk);
  };
  model.on("change:sheet", onSheet);
  const ticking = window.setInterval(() => tick(desk), 500);
  const looking = window.setInterval(() => {
    if (document.visibilityState === "visible" && ui.root.isConnected && ui.root.offsetParent) look(desk);
  }, 15000);
  return {
    root: ui.root,
    close() {
      window.clearInterval(ticking);
      window.clearInterval(looking);
      model.off("change:sheet", onSheet);
      mail.close();
    },
  };
}

const gridShape = (sheet) => JSON.stringify([sheet.columns, sheet.rows.map((row) => [row.run, row.lead, row.asks_block])]);

function look({ mail, ui }) {
  mail.send({ kind: "look" }, (answer) => say(ui.alert, answer.problem || ""));
}

function frame(model, state) {
  const who = make("input", { id: freshId("who"), type: "text", autocomplete: "name", spellcheck: "false" });
  who.value = model.get("who");
  who.addEventListener("change", () => {
    model.set("who", who.value.trim());
    model.save_changes();
  });
  const ui = {
    who,
    title: make("h2", { class: "wb-title" }),
    invented: make("p", { class: "wb-quiet" }),
    count: make("p", { class: "wb-count" }),
    saved: make("p", { class: "wb-saved", role: "status" }),
    alert: make("div", { class: "wb-alert", role: "alert" }),
    late: make("div", { class: "wb-alert", role: "alert" }),
    problem: make("div", { class: "wb-alert", role: "alert" }),
    cautions: make("div", { class: "wb-cautions" }),
    card: make("div", { class: "wb-card" }),
    timers: make("ul", { class: "wb-timers", "aria-label": "Timers" }),
    rung: make("div", { role: "alert", class: "wb-rung" }),
    ask: make("div", { class: "wb-ask", role: "group", "aria-label": "Corrections that need a reason" }),
    grid: make("div", { class: "wb-scroll", role: "region", "aria-label": "Runs in order", tabindex: "0" }),
    findings: make("div", { class: "wb-findings", id: freshId("findings") }),
    notes: make("div", { class: "wb-notes" }),
  };
  ui.ask.hidden = true;
  const skip = make("a", { class: "wb-skip", href: `#${ui.findings.id}` }, "Past the table, to what was found");
  skip.addEventListener("click", (event) => {
    event.preventDefault();
    ui.findings.querySelector("h3").focus();
  });
  ui.root = make(
    "section",
    { class: "workbench-panel wb-record", "aria-label": "Record panel" },
    make(
      "div",
      { class: "wb-head" },
      make("div", {}, make("p", { class: "wb-step" }, "Record"), ui.title, ui.invented),
      make("div", { class: "wb-side" }, make("label", { class: "wb-label", for: who.id }, "Entered by"), who, ui.count, ui.saved),
    ),
    ui.alert,
    ui.late,
    ui.problem,
    ui.cautions,
    ui.card,
    ui.timers,
    ui.rung,
    ui.ask,
    skip,
    ui.grid,
    ui.findings,
    ui.notes,
  );
  return ui;
}

// ---------------------------------------------------------------- the grid

function buildGrid(desk) {
  const { state, ui } = desk;
  const { columns, rows } = state.sheet;
  state.cells = new Map();
  const heads = columns.map((column) =>
    make(
      "th",
      { scope: "col", class: `wb-${column.kind}` },
      column.label,
      column.unit ? make("span", { class: "wb-unit" }, column.unit) : null,
    ),
  );
  const body = make("tbody", {});
  for (const row of rows) {
    if (row.lead) body.append(leadRow(desk, row, columns.length + 1));
    const cells = columns.map((column, j) => gridCell(desk, row, column, j));
    body.append(make("tr", { "data-run": row.run }, make("th", { scope: "row", class: "wb-run" }, String(row.run)), ...cells));
  }
  put(
    ui.grid,
    make(
      "table",
      { class: "wb-grid" },
      make("caption", { class: "wb-unseen" }, "Runs in order, with what is set and what was read"),
      make("thead", {}, make("tr", {}, make("th", { scope: "col", class: "wb-run" }, "run"), ...heads)),
      body,
    ),
  );
}

function leadRow(desk, row, width) {
  const said = make("span", {}, row.lead);
  const inside = [said];
  if (row.asks_block) {
    const box = make("input", { type: "text", class: "wb-lot", "aria-label": `Lot, shift or day of ${row.lead.split(";")[0]}` });
    box.value = row.block_label;
    const cell = { box, run: row.run, key: "block", acked: row.block_label, td: null };
    desk.state.cells.set(`${row.run}\n block`, cell);
    box.addEventListener("change", () => commit(desk, [cell]));
    box.addEventListener("keydown", (event) => {
      if (event.key === "Enter") box.blur();
    });
    inside.push(make("label", { class: "wb-inline" }, "lot, shift or day ", box));
  }
  return make("tr", { class: "wb-lead" }, make("th", { scope: "rowgroup", colspan: width }, make("div", { class: "wb-leading" }, ...inside)));
}

function gridCell(desk, row, column, j) {
  const about = make("span", { class: "wb-unseen", id: freshId("about") });
  const name = column.kind === "setting" ? `${column.label} as run` : column.label;
  const label = `${name}${column.unit ? ` in ${column.unit}` : ""}, run ${row.run}`;
  const box = column.kind === "status" || column.kind === "reset" ? chooser(column, label) : typed(column, label);
  box.setAttribute("aria-describedby", about.id);
  const mark = make("span", { class: "wb-mark", "aria-hidden": "true" });
  const below = make("span", { class: "wb-below" });
  const td = make("td", { class: `wb-${column.kind}` }, box, mark, below, about);
  const cell = { box, td, mark, about, below, run: row.run, key: column.key, column, j, acked: "", said: "", sending: 0 };
  desk.state.cells.set(`${row.run}\n${column.key}`, cell);
  listen(desk, cell);
  return td;
}

function chooser(column, label) {
  const blank = make("option", { value: "" }, "–");
  return make("select", { "aria-label": label }, blank, ...column.choices.map((word) => make("option", { value: word }, word)));
}

function typed(column, label) {
  return make("input", {
    type: "text",
    "aria-label": label,
    inputmode: column.is_number ? "decimal" : "text",
    autocomplete: "off",
    autocapitalize: "off",
    spellcheck: "false",
    class: column.is_number ? "wb-number" : "",
  });
}

function listen(desk, cell) {
  const { box } = cell;
  box.addEventListener("focus", () => {
    desk.state.run = cell.run;
    desk.state.key = cell.key;
    if (box.select) box.select();
    showCard(desk);
  });
  box.addEventListener("change", () => commit(desk, [cell]));
  box.addEventListener("keydown", (event) => onKey(desk, cell, event));
  if (box.tagName === "INPUT") box.addEventListener("paste", (event) => onPaste(desk, cell, event));
}

function onKey(desk, cell, event) {
  const { box } = cell;
  const isText = box.tagName === "INPUT";
  if (event.key === "Enter") {
    event.preventDefault();
    const stays = cell.acked && box.value.trim() !== cell.acked;
    commit(desk, [cell]);
    // A correction is asked its reason: whoever types is still at the cell when that comes.
    if (!stays) step(desk, cell, event.shiftKey ? -1 : 1, 0);
  } else if (event.key === "Escape") {
    event.preventDefault();
    restore(desk, cell);
  } else if (isText && (event.key === "ArrowDown" || event.key === "ArrowUp")) {
    event.preventDefault();
    step(desk, cell, event.key === "ArrowDown" ? 1 : -1, 0);
  } else if (isText && (event.key === "ArrowLeft" || event.key === "ArrowRight") && !event.shiftKey) {
    const back = event.key === "ArrowLeft";
    const whole = box.selectionStart === 0 && box.selectionEnd === box.value.length;
    const atEnd = box.selectionStart === box.selectionEnd && box.selectionStart === (back ? 0 : box.value.length);
    if (whole || atEnd) {
      event.preventDefault();
      step(desk, cell, 0, back ? -1 : 1);
    }
  }
}

function step(desk, cell, down, across) {
  const { rows, columns } = desk.state.sheet;
  let i = rows.findIndex((row) => row.run === cell.run);
  let j = cell.j;
  for (;;) {
    i += down;
    j += across;
    if (i < 0 || i >= rows.length || j < 0 || j >= columns.length) return;
    const next = desk.state.cells.get(`${rows[i].run}\n${columns[j].key}`);
    if (!next.box.disabled) {
      next.box.focus();
      return;
    }
  }
}

function restore(desk, cell) {
  cell.box.value = cell.acked;
  desk.state.wrong.delete(cell);
  desk.state.asks = desk.state.asks.filter((one) => one.cell !== cell);
  cell.stands = "";
  paint(cell);
  showProblems(desk);
  showAsk(desk);
  if (cell.box.select) cell.box.select();
}

function onPaste(desk, cell, event) {
  const text = event.clipboardData.getData("text/plain");
  if (!/[\t\n]/.test(text.replace(/[\r\n]+$/, ""))) return;
  event.preventDefault();
  const { rows, columns } = desk.state.sheet;
  const first = rows.findIndex((row) => row.run === cell.run);
  const changed = [];
  let outside = 0;
  text.replace(/\r\n?/g, "\n").replace(/\n+$/, "").split("\n").forEach((line, down) => {
    line.split("\t").forEach((word, across) => {
      const row = rows[first + down];
      const column = columns[cell.j + across];
      const target = row && column ? desk.state.cells.get(`${row.run}\n${column.key}`) : null;
      if (!target || target.box.disabled) {
        if (word.trim()) outside += 1;
        return;
      }
      if (word.trim() && setValue(target, word.trim())) changed.push(target);
    });
  });
  commit(desk, changed);
  desk.state.over = outside ? [`${outside} pasted cells lie outside the table and were left out.`] : [];
  showProblems(desk);
}

function setValue(cell, word) {
  if (cell.box.tagName === "SELECT" && ![...cell.box.options].some((one) => one.value === word)) {
    cell.box.append(make("option", { value: word }, word)); // the kernel says that it is none
  }
  cell.box.value = word;
  return true;
}

// ---------------------------------------------------------------- entering

function commit(desk, cells, reason = "") {
  const { state, mail, ui } = desk;
  const edits = cells.filter((cell) => cell.box.value.trim() !== cell.acked && (reason || cell.sent !== cell.box.value.trim()));
  if (!edits.length) return;
  for (const cell of edits) {
    cell.sent = cell.box.value.trim();
    cell.sending += 1;
    cell.stands = "sending";
    state.wrong.delete(cell);
    state.asks = state.asks.filter((one) => one.cell !== cell);
    paint(cell);
  }
  say(ui.saved, "writing …");
  const content = {
    kind: "enter",
    who: ui.who.value.trim(),
    reason,
    edits: edits.map((cell) => ({ run: cell.run, column: cell.key, text: cell.sent })),
  };
  mail.send(content, (answer) => answered(desk, edits, answer));
}

function answered(desk, cells, answer) {
  const { state, ui } = desk;
  let asked = null;
  cells.forEach((cell, i) => {
    cell.sending -= 1;
    const one = answer.answers ? answer.answers[i] : { outcome: "wrong", words: answer.problem };
    if (cell.sending > 0) return; // a later value is on its way
    cell.stands = "";
    if (one.outcome === "wrong") {
      cell.stands = "wrong";
      state.wrong.set(cell, one.words);
    } else if (one.outcome === "ask") {
      cell.stands = "asks";
      state.asks.push({ cell, words: one.words });
      asked = cell;
    } else if (cell.box.value.trim() === cell.sent && document.activeElement !== cell.box) {
      cell.box.value = cell.acked;
    }
    if (one.outcome !== "ask") cell.sent = undefined;
    paint(cell);
  });
  const n = (answer.answers || []).filter((one) => one.outcome === "entered").length;
  if (n) say(ui.saved, `${n === 1 ? "1 entry" : `${n} entries`} written ${new Date().toTimeString().slice(0, 8)}`);
  else say(ui.saved, "nothing new to write");
  state.over = [...(answer.notes || [])];
  refresh(desk);
  if (asked && (document.activeElement === asked.box || document.activeElement === document.body)) {
    ui.ask.querySelector("input").focus();
  }
}

function lateWords(ui, late) {
  const edits = late.flatMap((content) => content.edits || []);
  if (!late.length) return say(ui.late, "");
  const which = edits.map((one) => `run ${one.run}, ${one.column}: ${one.text}`).join("; ");
  say(
    ui.late,
    "The kernel does not answer. It may be busy; if it was restarted, run this cell again." +
      (which ? ` Not in the journal yet: ${which}.` : " All that was entered is in the journal."),
  );
}

// ---------------------------------------------------------------- showing

function refresh(desk) {
  const { state, ui } = desk;
  const { sheet } = state;
  say(ui.title, sheet.title);
  say(ui.invented, sheet.invented);
  say(ui.count, `${sheet.n_made} of ${sheet.rows.length} runs made`);
  say(ui.problem, sheet.problem);
  if (!state.run) state.run = sheet.next_run || (sheet.rows[0] ? sheet.rows[0].run : 0);
  for (const row of sheet.rows) {
    row.cells.forEach((now, j) => fill(state.cells.get(`${row.run}\n${sheet.columns[j].key}`), now));
    const lot = state.cells.get(`${row.run}\n block`);
    if (lot) {
      lot.acked = row.block_label;
      if (document.activeElement !== lot.box && !lot.sending) lot.box.value = row.block_label;
    }
    const tr = ui.grid.querySelector(`tr[data-run="${row.run}"]`);
    tr.className = `wb-is-${row.status}${row.run === sheet.next_run ? " wb-next" : ""}`;
  }
  showCautions(desk);
  showCard(desk);
  showProblems(desk);
  showAsk(desk);
  showFindings(desk);
}

function fill(cell, now) {
  const { box } = cell;
  const isIdle = box.value.trim() === cell.acked || cell.box.value.trim() === cell.sent;
  cell.acked = now.text;
  cell.now = now;
  box.disabled = now.is_closed;
  if (box.tagName === "INPUT") box.placeholder = now.planned;
  if (!cell.stands && (isIdle || document.activeElement !== box)) setValue(cell, now.text);
  paint(cell);
}

function paint(cell) {
  if (!cell.td) return;
  const now = cell.now || {};
  const stands = cell.stands || now.flag || "";
  const differs = Boolean(now.planned && now.text && now.text !== now.planned);
  cell.td.dataset.stands = stands;
  cell.td.classList.toggle("wb-new", Boolean(now.is_new));
  cell.td.classList.toggle("wb-off", differs);
  cell.td.classList.toggle("wb-to-read", !now.planned);
  say(cell.mark, MARKS[stands] || "");
  say(cell.below, differs ? `plan ${now.planned}` : cell.column.kind === "status" ? now.said || "" : "");
  const planned = now.planned ? `planned ${now.planned}${now.is_new ? ", changes here" : ""}. ` : "";
  const flagged = now.flag ? `${WORDS[now.flag]}: ${now.said}` : "";
  say(cell.about, `${planned}${cell.problem || flagged}`);
  cell.td.title = cell.problem || now.said || "";
  if (stands === "wrong") cell.box.setAttribute("aria-invalid", "true");
  else cell.box.removeAttribute("aria-invalid");
}

function showCautions({ state, ui }) {
  const { cautions, deferral, held, stop_rule: rule } = state.sheet;
  const key = JSON.stringify([cautions, held, rule]);
  if (ui.cautions.dataset.key === key) return;
  ui.cautions.dataset.key = key;
  const shown = cautions.map((one) => make("p", { class: "wb-caution" }, one.title ? make("b", {}, `${one.title}. `) : null, one.text));
  const fixed = held ? make("p", {}, make("b", {}, "Keep constant: "), held) : null;
  put(
    ui.cautions,
    make(
      "details",
      { open: true },
      make("summary", {}, cautions.length ? `Cautions (${cautions.length}) and when to stop` : "When to stop"),
      make("div", { class: "wb-columns" }, ...shown),
      fixed,
      make("p", {}, make("b", {}, "Stop rule: "), rule),
      make("p", { class: "wb-quiet" }, deferral),
    ),
  );
}

function showCard(desk) {
  const { state, ui } = desk;
  const row = state.sheet.rows.find((one) => one.run === state.run);
  if (!row) return put(ui.card);
  const column = state.sheet.columns.find((one) => one.key === state.key);
  const cell = column ? state.cells.get(`${row.run}\n${column.key}`) : null;
  const key = JSON.stringify([row, column, cell && cell.problem, state.sheet.next_run]);
  if (ui.card.dataset.key === key) return;
  ui.card.dataset.key = key;
  put(ui.card, cardHead(desk, row), cardSettings(desk, row), cardTools(desk, row), cell ? cardCell(desk, column, cell) : null);
}

function cardHead(desk, row) {
  const next = row.run === desk.state.sheet.next_run ? "next run" : row.status === "missing" ? "not made yet" : row.status;
  return make("div", { class: "wb-which" }, make("b", {}, `Run ${row.run}`), make("span", { class: "wb-quiet" }, next));
}

function cardSettings(desk, row) {
  const { columns } = desk.state.sheet;
  const shown = row.cells
    .map((one, j) => [one, columns[j]])
    .filter(([one, column]) => column.kind === "setting" && one.planned);
  return make(
    "ul",
    { class: "wb-set", "aria-label": "What to set" },
    ...shown.map(([one, column]) =>
      make(
        "li",
        { class: one.is_new ? "wb-change" : "wb-leave" },
        make("span", {}, column.label),
        make("b", {}, `${one.is_new ? "▸ " : ""}${one.planned}${column.unit ? `\u00a0${column.unit}` : ""}`),
        make("span", { class: "wb-quiet" }, one.is_new ? "set" : "leave"),
      ),
    ),
  );
}

function cardTools(desk, row) {
  const { state } = desk;
  const tools = row.timers
    .filter((one) => !one.after_run)
    .map((one) =>
      make("button", { type: "button", class: "wb-button", onclick: () => startTimer(desk, row.run, one) }, `Start ${one.name}, ${one.words}`),
    );
  const made = state.cells.get(`${row.run}\nmade at`);
  if (made && !made.acked) {
    tools.push(
      make(
        "button",
        {
          type: "button",
          class: "wb-button wb-main",
          onclick: () => {
            const now = new Date();
            now.setMinutes(now.getMinutes() - now.getTimezoneOffset());
            made.box.value = now.toISOString().slice(0, 19);
            commit(desk, [made]);
          },
        },
        `Run ${row.run} made now`,
      ),
    );
  }
  return make("div", { class: "wb-tools" }, ...tools);
}

function cardCell(desk, column, cell) {
  const quick =
    cell.box.tagName === "INPUT" && !cell.box.disabled
      ? column.choices.map((word) =>
          make(
            "button",
            {
              type: "button",
              class: "wb-button",
              "aria-label": `Enter ${word} for ${column.label}, run ${cell.run}`,
              onclick: () => {
                cell.box.value = word;
                commit(desk, [cell]);
                cell.box.focus();
              },
            },
            word,
          ),
        )
      : [];
  const said = cell.problem || (cell.now && cell.now.flag ? `${WORDS[cell.now.flag]}: ${cell.now.said}` : "");
  return make(
    "div",
    { class: "wb-here" },
    make("p", {}, make("b", {}, `${column.label}${column.unit ? `, ${column.unit}` : ""}`), column.hint ? ` ${column.hint}` : ""),
    quick.length ? make("div", { class: "wb-tools" }, ...quick) : null,
    said ? make("p", { class: "wb-said" }, said) : null,
  );
}

function showProblems(desk) {
  const { state, ui } = desk;
  for (const cell of state.cells.values()) {
    const words = state.wrong.get(cell) || "";
    if ((cell.problem || "") !== words) {
      cell.problem = words;
      paint(cell);
    }
  }
  const lines = [...state.wrong].map(([cell, words]) => [cell, `Run ${cell.run}, ${cell.column ? cell.column.label : "block"}: ${words}`]);
  const key = JSON.stringify([lines.map((one) => one[1]), state.over]);
  if (ui.alert.dataset.key === key) return;
  ui.alert.dataset.key = key;
  put(
    ui.alert,
    ...lines.map(([cell, words]) =>
      make("p", {}, make("button", { type: "button", class: "wb-link", onclick: () => cell.box.focus() }, "Not entered"), ` ${words}`),
    ),
    ...state.over.map((words) => make("p", {}, words)),
  );
}

function showAsk(desk) {
  const { state, ui } = desk;
  const key = JSON.stringify(state.asks.map((one) => [one.cell.run, one.cell.key, one.words]));
  if (ui.ask.dataset.key === key) return;
  ui.ask.dataset.key = key;
  ui.ask.hidden = !state.asks.length;
  if (!state.asks.length) return put(ui.ask);
  const reason = make("input", { id: freshId("reason"), type: "text", autocomplete: "off" });
  const cells = state.asks.map((one) => one.cell);
  const back = () => cells[0].box.focus();
  const accept = () => {
    if (!reason.value.trim()) return reason.focus();
    back();
    commit(desk, cells, reason.value.trim());
    state.asks = [];
    showAsk(desk);
  };
  const keep = () => {
    back();
    for (const cell of cells) {
      cell.sent = undefined;
      restore(desk, cell);
    }
  };
  reason.addEventListener("keydown", (event) => {
    if (event.key === "Enter") accept();
    else if (event.key === "Escape") keep();
  });
  put(
    ui.ask,
    ...state.asks.map((one) => make("p", { role: "alert" }, one.words)),
    make(
      "div",
      { class: "wb-tools" },
      make("label", { class: "wb-label", for: reason.id }, "Reason"),
      reason,
      make("button", { type: "button", class: "wb-button wb-main", onclick: accept }, "Enter with this reason"),
      make("button", { type: "button", class: "wb-button", onclick: keep }, "Keep what stands"),
    ),
  );
}

function showFindings(desk) {
  const { state, ui } = desk;
  const { findings, notes } = state.sheet;
  const key = JSON.stringify([findings, notes]);
  if (ui.findings.dataset.key === key) return;
  ui.findings.dataset.key = key;
  const items = findings.map((one) =>
    make(
      "li",
      { class: `wb-found-${one.weight}` },
      make("span", { class: "wb-weight" }, `${MARKS[one.weight]} ${WORDS[one.weight]}`),
      make("span", {}, `${one.sentence} ${one.next_step}`.trim()),
      one.runs.length
        ? make("button", { type: "button", class: "wb-link", onclick: () => goTo(desk, one.runs[0]) }, `show run ${one.runs[0]}`)
        : null,
    ),
  );
  put(
    ui.findings,
    make("h3", { tabindex: "-1" }, findings.length ? `What was found (${findings.length})` : "Nothing odd was found so far"),
    make("ul", { "aria-live": "polite" }, ...items),
  );
  put(ui.notes, ...notes.map((words) => make("p", { class: "wb-quiet" }, words)));
}

function goTo({ state }, run) {
  const cell = [...state.cells.values()].find((one) => one.run === run && one.td && !one.box.disabled);
  if (cell) cell.box.focus();
}

// ---------------------------------------------------------------- timers

function startTimer(desk, run, timer) {
  desk.state.timers.push({ run, name: timer.name, words: timer.words, end: Date.now() + 1000 * timer.seconds });
  tick(desk);
}

function tick(desk) {
  const { state, ui } = desk;
  const now = Date.now();
  for (const one of state.timers) {
    if (!one.rang && now >= one.end) {
      one.rang = true;
      say(ui.rung, `${one.name} of run ${one.run} is over (${one.words}).`);
    }
  }
  const lines = [
    ...state.timers.map((one) => [`${one.name}, run ${one.run}: ${one.rang ? "over" : clock((one.end - now) / 1000)}`, one]),
    ...waits(state.sheet, now).map((words) => [words, null]),
  ];
  const key = lines.map((line) => line[0]).join("\n");
  if (ui.timers.dataset.key === key) return;
  ui.timers.dataset.key = key;
  if (ui.timers.children.length === lines.length) {
    lines.forEach((line, i) => say(ui.timers.children[i].firstChild, line[0]));
    lines.forEach((line, i) => ui.timers.children[i].classList.toggle("wb-over", Boolean(line[1] && line[1].rang)));
    return;
  }
  put(ui.timers, ...lines.map(([words, one]) => make("li", {}, make("span", {}, words), one ? stopButton(desk, one) : null)));
}

function stopButton(desk, one) {
  const stop = () => {
    desk.state.timers = desk.state.timers.filter((other) => other !== one);
    say(desk.ui.rung, "");
    tick(desk);
  };
  return make("button", { type: "button", class: "wb-link", "aria-label": `Put away ${one.name}, run ${one.run}`, onclick: stop }, "put away");
}

function waits(sheet, now) {
  const ready = new Map();
  const coming = new Map();
  for (const row of sheet.rows) {
    for (const one of row.timers) {
      if (!one.after_run || !row.made_at) continue;
      const open = row.cells.some((cell, j) => sheet.columns[j].kind === "reading" && sheet.columns[j].label.split(", part ")[0] === one.name && !cell.text);
      const from = Date.parse(row.made_at) + 1000 * one.seconds;
      if (!open || Number.isNaN(from)) continue;
      const into = from <= now ? ready : coming;
      if (!into.has(one.name)) into.set(one.name, []);
      into.get(one.name).push([row.run, from]);
    }
  }
  const runs = (list) => `${list.length > 1 ? "runs" : "run"} ${list.map((one) => one[0]).join(", ")}`;
  return [
    ...[...ready].map(([name, list]) => `${name} can be read: ${runs(list)}`),
    ...[...coming].map(([name, list]) => `${name} waits: ${runs(list)}, first from ${when(Math.min(...list.map((one) => one[1])))}`),
  ];
}

function when(moment) {
  return new Date(moment).toLocaleString(undefined, { weekday: "short", hour: "2-digit", minute: "2-digit" });
}

export default { render };
