"""A page that shows one panel as a notebook would, its messages answered by the real desk.

What JupyterLab adds (the comm between page and kernel) is tested in test_lab_panels.py; here a
model of a few lines stands in its place, so that a test of a panel takes seconds.
"""

import json

from workbench.jupyter.assets import script, styles

PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width,initial-scale=1"><title>Panel</title></head>
<body style="margin:8px"><main></main></body></html>"""

START = """async ([esm, css, state, theme]) => {
  document.body.dataset.jpThemeLight = theme === 'dark' ? 'false' : 'true';
  document.body.style.background = theme === 'dark' ? '#111111' : '#FFFFFF';
  const style = document.createElement('style');
  style.textContent = css;
  document.head.append(style);
  const heard = {};
  const tell = (name, value) => (heard[name] || []).slice().forEach(one => one(value));
  const changed = {};
  const model = {
    get: name => state[name],
    set: (name, value) => { state[name] = value; changed[name] = value; },
    save_changes: () => { window.toPython(JSON.stringify({saved: changed})); },
    on: (name, one) => { (heard[name] = heard[name] || []).push(one); },
    off: (name, one) => { heard[name] = (heard[name] || []).filter(o => o !== one); },
    send: async content => {
      const answer = JSON.parse(await window.toPython(JSON.stringify({sent: content})));
      if (answer === null) return;
      for (const [name, value] of Object.entries(answer.state)) {
        state[name] = value;
        tell('change:' + name);
      }
      tell('msg:custom', answer.message);
    },
  };
  window.model = model;
  const url = URL.createObjectURL(new Blob([esm], {type: 'text/javascript'}));
  const panel = (await import(url)).default;
  panel.render({model, el: document.querySelector('main')});
}"""


class PanelPage:
    """A panel in a page; `is_up` False plays a kernel that does not answer."""

    def __init__(self, watched, desk, name, *, state, shared=("sheet",)):
        self.page = watched.page
        self.desk = desk
        self.is_up = True
        self.shared = shared
        self.state = dict(state)
        self.name = name
        self.page.expose_function("toPython", self._heard)

    def show(self, theme="light"):
        """Open the panel afresh, as a cell that is run again does."""
        self.page.goto("about:blank")
        self.page.set_content(PAGE)
        given = [script(self.name), styles(), self.state, theme]
        self.page.evaluate(START, given)
        return self.page

    def _heard(self, words):
        said = json.loads(words)
        if "saved" in said:
            self.state |= said["saved"]
            return "null"
        if not self.is_up:
            return "null"
        answer = self.desk.answer(said["sent"])
        state = {name: answer.pop(name) for name in self.shared if name in answer}
        self.state |= state
        return json.dumps({"state": state, "message": {**answer, "id": said["sent"]["id"]}})


def barriers(page, axe):
    """Return what axe-core finds serious or critical on a page, each with where it is."""
    page.evaluate(axe)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{one['id']} ({one['impact']}): {node['target']} {node['failureSummary'][:200]}"
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"][:3]
    ]
