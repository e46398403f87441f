// What every panel shares. Words of a user reach the page as text nodes and attributes of our own
// making only: nothing here, or in a panel, writes markup from data.

function make(tag, attributes = {}, ...inside) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...inside.filter((one) => one !== null && one !== undefined));
  return node;
}

function put(node, ...inside) {
  node.replaceChildren(...inside.filter((one) => one !== null && one !== undefined));
}

function say(node, words) {
  // The same words again would not be read out again, and writing them would lose a selection.
  if (node.textContent !== words) node.textContent = words;
}

function drawn(tag, attributes, ...inside) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, String(value));
  node.append(...inside);
  return node;
}

let counted = 0;
function freshId(stem) {
  counted += 1;
  return `wb-${stem}-${counted}`;
}

// Keys typed in a panel are for the panel: a notebook has shortcuts on single letters.
function keepKeys(root) {
  for (const kind of ["keydown", "keyup", "keypress"]) {
    root.addEventListener(kind, (event) => event.stopPropagation());
  }
  root.setAttribute("data-lm-suppress-shortcuts", "true");
}

function clock(seconds) {
  const whole = Math.max(0, Math.ceil(seconds));
  const hours = Math.floor(whole / 3600);
  const rest = `${String(Math.floor((whole % 3600) / 60)).padStart(hours ? 2 : 1, "0")}:${String(whole % 60).padStart(2, "0")}`;
  return hours ? `${hours}:${rest}` : rest;
}

const TROUBLE_AFTER = 6000; // ms without an answer of the kernel before it is said

// Messages with numbers; what has no answer yet is known, so that nothing is lost unseen.
function mailbox(model, trouble) {
  const open = new Map();
  let number = 0;
  let timer = 0;
  const look = () => {
    const late = [...open.values()].filter((one) => Date.now() - one.at > TROUBLE_AFTER);
    trouble(late.map((one) => one.content));
    window.clearTimeout(timer);
    if (open.size) timer = window.setTimeout(look, 1000);
  };
  const heard = (content) => {
    const waiting = open.get(content.id);
    if (!waiting) return;
    open.delete(content.id);
    waiting.answered(content);
    look();
  };
  model.on("msg:custom", heard);
  return {
    send(content, answered) {
      number += 1;
      const id = `${number}`;
      open.set(id, { content, answered, at: Date.now() });
      model.send({ ...content, id });
      window.clearTimeout(timer);
      timer = window.setTimeout(look, TROUBLE_AFTER + 100);
    },
    close() {
      window.clearTimeout(timer);
      model.off("msg:custom", heard);
    },
  };
}
