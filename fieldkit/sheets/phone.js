"use strict";
// The labels of a show, and what is to be known of each. All texts are set as texts, and none is read as markup.
const show = JSON.parse(document.getElementById("data").textContent);
const asked = document.getElementById("asked");
const view = document.getElementById("view");
const byKey = new Map(show.labels.map((label) => [`${label.kind} ${label.id}`, label]));
const byId = new Map();
for (const label of show.labels) if (!byId.has(label.id)) byId.set(label.id, label);
const MOST = 60;

function made(name, text, kind) {
  const element = document.createElement(name);
  if (text !== undefined) element.textContent = text;
  if (kind) element.className = kind;
  if (text && /[^\x00-\x7f]/.test(text)) element.dir = "auto";
  return element;
}

function link(text, to, kind) {
  const element = made("a", text, kind);
  element.href = "#" + encodeURIComponent(to);
  return element;
}

// A label as it stands in a text: a line such as W1/2 leads to its run; a plain word is taken for no label.
function known(part) {
  return /^[a-z]+$/.test(part) ? undefined : byId.get(part) ?? byId.get(part.replace(/\/[^/]*$/, ""));
}

// A line of a card: each word that is a label leads to it.
function line(text) {
  const element = made("p", undefined, /^(error|! )/.test(text) ? "bad" : text.startsWith("  ") ? "under" : "");
  if (/[^\x00-\x7f]/.test(text)) element.dir = "auto";
  for (const part of text.trim().split(/([\s,;:()]+)/)) {
    const label = known(part);
    element.append(label ? link(part, `${label.kind} ${label.id}`) : part);
  }
  return element;
}

function row(label) {
  const element = link("", `${label.kind} ${label.id}`, label.live ? "row bad" : "row");
  element.append(made("b", label.id), made("span", ` ${label.kind}`, "kind"), made("span", label.about, "about"));
  return element;
}

// The best first: the label itself, what begins so, what has it in its label, what has it in its description.
function found(text) {
  const wanted = text.trim().toLocaleLowerCase();
  const ranked = [[], [], [], []];
  for (const label of show.labels) {
    const id = label.id.toLocaleLowerCase();
    if (id === wanted) ranked[0].push(label);
    else if (id.startsWith(wanted)) ranked[1].push(label);
    else if (id.includes(wanted)) ranked[2].push(label);
    else if (label.about.toLocaleLowerCase().includes(wanted)) ranked[3].push(label);
  }
  const all = ranked.flat();
  return all.length || !wanted.includes("/") ? all : found(wanted.replace(/\/[^/]*$/, ""));
}

function list(labels, title) {
  const rows = labels.slice(0, MOST).map(row);
  if (title) rows.unshift(made("h2", title));
  if (labels.length > MOST) rows.push(made("p", `and ${labels.length - MOST} more: type more of the label`));
  if (!labels.length) rows.push(made("p", "no label has that in it"));
  view.replaceChildren(...rows);
}

function card(label) {
  const parts = [back(), made("h2", label.id), made("p", `${label.kind}: ${label.about}`, "about")];
  parts.push(...label.warnings.map((text) => made("p", text, "bad stop")));
  parts.push(...label.lines.filter((text) => text.trim()).map(line));
  view.replaceChildren(...parts);
}

function table(wanted) {
  const one = show.tables.find((item) => item.name === wanted);
  if (!one) return start();
  const parts = [back(), made("h2", one.title)];
  if (!one.rows.length) parts.push(made("p", one.empty));
  for (const cells of one.rows) {
    const block = made("div", undefined, "block");
    cells.forEach((text, place) => {
      if (text === "") return;
      const part = made("div");
      part.append(made("span", one.heads[place] + " ", "kind"), ...line(text).childNodes);
      block.append(part);
    });
    parts.push(block);
  }
  view.replaceChildren(...parts);
}

function back() {
  const button = made("button", "\u2190 back", "back");
  button.type = "button";
  button.addEventListener("click", () => (history.state ? history.back() : go("")));
  return button;
}

function start() {
  const kinds = [...new Set(show.labels.map((label) => label.kind))];
  const parts = [made("h2", "All labels")];
  for (const kind of kinds) {
    const count = show.labels.filter((label) => label.kind === kind).length;
    parts.push(link(`${kind} (${count})`, `all ${kind}`, "row"));
  }
  parts.push(made("h2", "Tables"));
  parts.push(...show.tables.map((item) => link(item.title, `table ${item.name}`, "row")));
  view.replaceChildren(...parts);
}

function go(to) {
  history.pushState({ to }, "", "#" + encodeURIComponent(to));
  draw();
}

function draw() {
  let to = "";
  try {
    to = decodeURIComponent(location.hash.slice(1));
  } catch {
    to = "";
  }
  const kind = to.startsWith("all ") ? to.slice(4) : "";
  if (byKey.has(to)) card(byKey.get(to));
  else if (to.startsWith("table ")) table(to.slice(6));
  else if (kind) {
    list(show.labels.filter((label) => label.kind === kind), kind);
    view.prepend(back());
  } else if (asked.value.trim()) list(found(asked.value));
  else start();
  window.scrollTo(0, 0);
}

document.addEventListener("click", (event) => {
  const target = event.target.closest("a[href^='#']");
  if (!target) return;
  event.preventDefault();
  go(decodeURIComponent(target.getAttribute("href").slice(1)));
});
asked.addEventListener("input", () => {
  if (location.hash.length > 1) history.pushState({ to: "" }, "", "#");
  draw();
});
document.getElementById("ask").addEventListener("submit", (event) => {
  event.preventDefault();
  const [best] = asked.value.trim() ? found(asked.value) : [];
  if (best) go(`${best.kind} ${best.id}`);
  asked.blur();
});
document.getElementById("light").addEventListener("click", () => document.body.classList.toggle("light"));
window.addEventListener("popstate", draw);
draw();
