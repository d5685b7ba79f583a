// What the toolkit leaves out for assistive technology: which sections are open and that their names are headings, which field a refusal belongs to,
// a stop of the keyboard in the standing, and in what was told, where they scroll,
// and the way by Tab into what a button opened, which stands at the end of the document, and by Escape out of it with what was typed.
if (!window.candidacyAccess) {
  window.candidacyAccess = true;
  const put = (node, name, value) => { if (node.getAttribute(name) !== value) node.setAttribute(name, value); };
  const mend = () => {
    document.querySelectorAll("[class*='st-key-section-'] button").forEach((button) => {
      const name = [...button.closest("[class*='st-key-section-']").classList].find((c) => c.startsWith("st-key-section-"));
      put(button.parentElement, "role", "heading");
      put(button.parentElement, "aria-level", "2");
      put(button, "aria-expanded", String(!!document.querySelector("." + CSS.escape(name.replace("st-key-section-", "st-key-body-")))));
    });
    for (const [place, name] of [["[data-testid=stColumn]:has(> div .st-key-standing)", "Standing"], [".st-key-told", "What was told"]])
      document.querySelectorAll(place).forEach((box) => {
        // where it is longer than its place, the keyboard scrolls it
        const scrolls = box.scrollHeight > box.clientHeight;
        if (scrolls) { put(box, "tabindex", "0"); put(box, "role", "region"); put(box, "aria-label", name); }
        else ["tabindex", "role", "aria-label"].forEach((each) => box.removeAttribute(each));
      });
    const refused = new Set();
    document.querySelectorAll("[data-field]").forEach((note, n) => {
      const box = document.querySelector(".st-key-" + CSS.escape(note.dataset.field.replace(/[^\w-]/g, "-")));
      const field = box && box.querySelector("input, textarea, [role=radiogroup], [role=group]");
      if (!field) return;
      if (!note.id) note.id = "refusal-" + note.dataset.field.replace(/[^\w-]/g, "-");
      put(field, "aria-describedby", note.id);
      put(field, "aria-invalid", "true");
      field.dataset.refused = "1";
      refused.add(field);
    });
    document.querySelectorAll("[data-refused]").forEach((field) => {
      if (refused.has(field)) return;
      ["aria-describedby", "aria-invalid", "data-refused"].forEach((name) => field.removeAttribute(name));
    });
  };
  const stopsIn = (body) => [...body.querySelectorAll("a[href], button, input, textarea, select, summary, [tabindex]")]
    .filter((node) => node.tabIndex >= 0 && !node.disabled && node.getClientRects().length);
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Tab" || event.ctrlKey || event.altKey || event.metaKey) return;
    const body = document.querySelector("[data-testid=stPopoverBody]");
    const button = document.querySelector("[data-testid=stPopoverButton][aria-expanded=true]");
    if (!body || !button) return;
    const stops = stopsIn(body), at = document.activeElement;
    if (!stops.length) return;
    const ahead = !event.shiftKey, last = ahead && at === stops[stops.length - 1];
    const to = ahead && at === button ? stops[0] : last || (!ahead && at === stops[0]) ? button : null;
    if (!to) return;
    event.preventDefault();
    to.focus();
    // closed, or it would cover what the next Tab reaches; later, or what was typed last would be lost
    if (last) setTimeout(() => { if (button.getAttribute("aria-expanded") === "true") button.click(); }, 250);
  }, true);
  const held = new WeakMap();
  document.addEventListener("focusin", (event) => { if (event.target.matches("input, textarea")) held.set(event.target, event.target.value); }, true);
  document.addEventListener("keydown", (event) => {
    const at = document.activeElement;
    if (event.key !== "Escape" || event.isComposing || !at || !at.matches("input, textarea")) return;
    const list = at.getAttribute("role") === "combobox";
    if (list) { event.preventDefault(); event.stopImmediatePropagation(); }  // the toolkit would take the chosen answer out
    if (list && at.getAttribute("aria-expanded") === "true") {
      at.blur();
      setTimeout(() => at.focus({preventScroll: true}), 0);
      return;
    }
    const form = at.closest("[role=dialog]"), save = form && form.querySelector("[class*='-save'] button");
    if (save && at.value !== held.get(at)) {  // it closes by a second Escape, when no typed text would go unasked
      event.preventDefault();
      event.stopImmediatePropagation();
      save.focus();
      return;
    }
    const body = at.closest("[data-testid=stPopoverBody]");
    const button = document.querySelector("[data-testid=stPopoverButton][aria-expanded=true]");
    if (!body || !button) return;
    // the toolkit would take the field away with what was typed: it is left first, which enters it, and closed later
    event.preventDefault();
    event.stopImmediatePropagation();
    button.focus();
    setTimeout(() => { if (button.getAttribute("aria-expanded") === "true") button.click(); }, 250);
  }, true);
  let asked = false;
  const soon = () => { if (!asked) { asked = true; requestAnimationFrame(() => { asked = false; mend(); }); } };
  new MutationObserver(soon).observe(document.body, { subtree: true, childList: true, characterData: true });
  soon();
}
