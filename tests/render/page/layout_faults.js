/* Measures the page as it is laid out now: what is clipped, covered, overlapping, or too small.

   Gives sentences, none if all is well. Only the topmost dialog is measured while one is open. */

({ touch }) => {
  const found = new Set();
  const dialogs = [...document.querySelectorAll("dialog[open]")];
  const top = dialogs.at(-1) || document.body;
  const nameOf = (e) =>
    (e.dataset.test || e.getAttribute("aria-label") || e.innerText || e.title || `${e.tagName}.${e.className}`)
      .trim().replace(/\s+/g, " ").slice(0, 50);
  /* What is pressed for a control: the label, where the control itself is not seen. */
  const seen = (e) => (e.closest(".seg label, label.btn") || e);
  const SELECTOR = "button, a[href], input, select, textarea, summary, canvas[tabindex], [role=option], .swipe";
  const controls = [...new Set([...top.querySelectorAll(SELECTOR)].map(seen))].filter(
    (e) => e.checkVisibility({ visibilityProperty: true }) && !e.matches(".skip") && e.getBoundingClientRect().width > 1,
  );
  const within = (inner, outer) =>
    inner.left >= outer.left - 1 && inner.right <= outer.right + 1 &&
    inner.top >= outer.top - 1 && inner.bottom <= outer.bottom + 1;
  const clips = (e) => getComputedStyle(e).overflow !== "visible";
  const holders = (e) => {
    const list = [];
    for (let up = e.parentElement; up && up !== document.body; up = up.parentElement) {
      if (clips(up)) list.push(up);
      if (getComputedStyle(up).position === "fixed" || up === top) break;
    }
    return list;
  };
  const screen = { left: 0, top: 0, right: innerWidth, bottom: innerHeight };
  /* The part of a control that is seen without scrolling. */
  const shown = (e) => {
    const box = e.getBoundingClientRect();
    let [left, right, high, low] = [box.left, box.right, box.top, box.bottom];
    for (const holder of holders(e)) {
      const limit = holder.getBoundingClientRect();
      [left, right] = [Math.max(left, limit.left), Math.min(right, limit.right)];
      [high, low] = [Math.max(high, limit.top), Math.min(low, limit.bottom)];
    }
    return { left, right, top: high, bottom: low };
  };
  const popup = (e) => e.closest(".menu");

  const boxes = controls.map(shown);
  controls.forEach((one, i) => controls.slice(i + 1).forEach((other, j) => {
    const [a, b] = [boxes[i], boxes[i + 1 + j]];
    const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
    const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    const related = one.contains(other) || other.contains(one) || popup(one) !== popup(other) ||
      one.matches(".swipe, canvas") && other.matches(".swipe, canvas");
    if (wide > 1 && high > 1 && !related) found.add(`${nameOf(one)} overlaps ${nameOf(other)}`);
  }));

  const ink = document.createElement("canvas").getContext("2d");
  const textWidth = (e, text) => {
    ink.font = getComputedStyle(e).font;
    return ink.measureText(text).width;
  };
  for (const control of controls) {
    control.scrollIntoView({ block: "nearest", inline: "nearest", behavior: "instant" });
    const box = control.getBoundingClientRect();
    const name = nameOf(control);
    if (!within(box, screen)) found.add(`${name} is beyond the screen`);
    for (const holder of holders(control))
      if (!within(box, holder.getBoundingClientRect()) && box.height < holder.clientHeight)
        found.add(`${name} is clipped by ${holder.className || holder.tagName}`);
    const y = (box.top + box.bottom) / 2;
    for (const x of [box.left + 4, (box.left + box.right) / 2, box.right - 4]) {
      const hit = document.elementFromPoint(x, y);
      const mine = hit && (control.contains(hit) || hit.contains(control) || hit.closest(".swipe"));
      if (!mine && !(hit && popup(hit) && !popup(control)))
        found.add(`${name} is covered by ${hit ? nameOf(hit) : "nothing"}`);
    }
    if (touch && !control.matches("canvas") && (box.width < 24 || box.height < 24) && !control.closest("label"))
      found.add(`${name} is ${Math.round(box.width)} by ${Math.round(box.height)}, too small for a finger`);
    const style = getComputedStyle(control);
    if (control.matches("select")) {
      const room = control.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - 18;
      const text = control.selectedOptions[0]?.text || "";
      if (textWidth(control, text) > room + 1) found.add(`${name} cuts its text "${text}"`);
    } else if (control.matches(".num, [data-test=sweep-values], button, label, summary") && control.scrollWidth > control.clientWidth + 1) {
      found.add(`${name} cuts its text`);
    }
  }
  for (const row of top.querySelectorAll(".start-words, .start-ends")) {
    const fields = [...row.querySelectorAll("input")].map((e) => [e, e.getBoundingClientRect()]);
    for (const [one, a] of fields)
      for (const [other, b] of fields)
        if (a.top > b.top + 2 && a.top < b.bottom) found.add(`${nameOf(one)} stands lower than ${nameOf(other)} beside it`);
  }
  /* An inline element has no inner height, and none that could be too small. */
  const cut = (e) => e.scrollWidth > e.clientWidth + 1 || (e.clientHeight && e.scrollHeight > e.clientHeight + 1);
  for (const text of top.querySelectorAll(".tag, .problem, .warning, .note, .derived, .differences, h2, dd"))
    if (text.checkVisibility() && (cut(text) || !within(text.getBoundingClientRect(), { ...screen, top: -1e6, bottom: 1e6 })))
      found.add(`the sentence "${nameOf(text)}" is cut`);
  for (const holder of [document.documentElement, ...top.querySelectorAll("*")])
    if (["auto", "scroll"].includes(getComputedStyle(holder).overflowX) || holder === document.documentElement)
      if (holder.scrollWidth > holder.clientWidth + 1 && !holder.matches(".tries, textarea, input"))
        found.add(`${holder.className || holder.tagName} is wider than its place: ${holder.scrollWidth} of ${holder.clientWidth}`);
  return [...found].sort();
}
