"use strict";
// The outbox: an entry is written down on the phone before it is sent, and leaves it when the answer says it is logged.
const BOX = "gramrise-outbox", AHEAD = "gramrise-ahead";
const base = document.body.dataset.base;
const whose = document.body.dataset.whose;
// An entry belongs to a child, not to a place in this phone's list of children, which may change while it waits.
// One of nobody here (this phone was shut out from that child) is refused by the server, and stands here until read.
const everybody = (document.body.dataset.everybody || "").split(" ");
const mine = () => read().filter(({fields}) => fields.whose === whose || !everybody.includes(fields.whose));
const there = entry => base + entry.action.replace(/^\/\d+/, "");
const put = (id, change) => write(read().map(other => other.id === id ? {...other, ...change} : other));
const drop = id => write(read().filter(other => other.id !== id));
const read = () => JSON.parse(localStorage.getItem(BOX) || "[]");
const write = list => { localStorage.setItem(BOX, JSON.stringify(list)); show(); };
const identity = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), b => b.toString(16).padStart(2, "0")).join("");
let sending = false;
// The same thing touched again so soon, ms, is a double tap. Our choice: nobody gives the same twice in two seconds.
const DOUBLE_TAP = 2000;
const touched = new Map();

// One identity for the very same thing while its first touch is on its way or hardly past; anything else has its own.
// Who noticed does not make it another giving.
function identityOf(action, {noticed, ...fields}) {
  const what = JSON.stringify([action, fields]), before = touched.get(what);
  const same = before && (sending || performance.now() - before.at < DOUBLE_TAP);
  const now = same ? before : {id: identity(), at: performance.now()};
  touched.set(what, now);
  return now.id;
}

function show() {
  const place = document.getElementById("waiting");
  if (!place) return;
  const waiting = mine();
  place.hidden = waiting.length === 0;
  place.querySelector("ul").replaceChildren(...waiting.map(entry => {
    const line = document.createElement("li");
    line.textContent = `${entry.told}, ${swallowed(entry)} `;
    if (entry.refused) line.append(`${place.dataset.refused} ${entry.refused} `);
    if (entry.asks) line.append(button(place.dataset.asks, () => ask(entry)), " ");
    line.append(button(place.dataset.away, () => drop(entry.id)));
    return line;
  }));
}

function button(told, pressed) {
  const made = document.createElement("button");
  made.textContent = told;
  made.onclick = pressed;
  return made;
}

// When it was swallowed, on the clock of 24 hours as everywhere here.
function swallowed(entry) {
  if (entry.fields.minutes === "at") return entry.fields.at;
  const at = new Date(entry.pressed - 60000 * Number(entry.fields.minutes || 0));
  return at.toLocaleTimeString("en-GB", {hour: "2-digit", minute: "2-digit"});
}

function network(there) {
  const told = document.getElementById("no-network");
  if (told) told.hidden = there;
  // A page that was kept does not know how long ago anything is.
  if (!there) for (const old of document.querySelectorAll("[data-ago]")) old.hidden = true;
}

async function send() {
  if (sending) return;
  sending = true;
  let logged = false;
  try {
    const place = document.getElementById("waiting");
    const token = document.querySelector("input[name=token]");
    if (!token || !place) return;
    // What was touched while another was on its way goes in the same round.
    const tried = new Set(), next = () => mine().find(each => !each.refused && !tried.has(each.id));
    for (let entry = next(); entry; entry = next()) {
      tried.add(entry.id);
      const waited = Math.max(0, (Date.now() - entry.pressed) / 1000);
      if (entry.asks && waited <= Number(place.dataset.askWithin)) continue;
      const body = new URLSearchParams({...entry.fields, entry: entry.id, waited, token: token.value});
      let answer;
      try {
        answer = await fetch(there(entry), {method: "POST", body, headers: {Accept: "application/json"}, signal: AbortSignal.timeout(15000)});
      } catch (gone) { network(false); break; }
      network(true);
      if (answer.ok) { logged ||= !(await answer.json()).known; drop(entry.id); }
      // It stays here until it is answered; left unanswered it is logged by itself, and asked about as a question.
      else if (answer.status === 409) { put(entry.id, {asks: true}); ask(entry); return; }
      else if (answer.status === 422) {
        const told = await answer.json();
        put(entry.id, {refused: told.problem});
        place.scrollIntoView();
      } else break;
    }
  } finally { sending = false; }
  if (logged) location.replace(base + "/");
}

function ask(entry) {
  const waited = Math.max(0, (Date.now() - entry.pressed) / 1000);
  const token = document.querySelector("input[name=token]").value;
  const body = new URLSearchParams({...entry.fields, entry: entry.id, waited, token});
  const form = document.createElement("form");
  form.method = "post";
  form.action = there(entry);
  for (const [name, value] of body) {
    const field = document.createElement("input");
    field.type = "hidden"; field.name = name; field.value = value;
    form.append(field);
  }
  document.body.append(form);
  form.submit();
}

for (const way of document.querySelectorAll("[data-drop]")) way.addEventListener("click", () => drop(way.dataset.drop));

// What was asked about is answered by a form; what waits here is then known to be logged, and goes.
for (const form of document.querySelectorAll("form[data-answers]")) {
  form.addEventListener("submit", () => put(form.elements.entry.value, {asks: false}));
}

// What is missing is said beside the buttons that log, where the thumb is.
function missing(form, fields) {
  const bar = form.querySelector(".choose");
  if (!bar) return false;  // its one field says by itself that it is empty
  const amounts = form.querySelector("input[name=amount]");
  const empty = amounts ? !fields.amount : "grams" in fields && !fields.grams && !fields.text;
  const code = empty ? "first" : fields.minutes === "at" && !fields.at ? "time" : "";
  if (code) bar.textContent = bar.dataset[code];
  bar.classList.toggle("missing", Boolean(code));
  return Boolean(code);
}

for (const form of document.querySelectorAll("form[data-outbox]")) {
  if (form.querySelector(".choose")) form.noValidate = true;
  form.addEventListener("change", () => {
    const chosen = form.querySelector("input[name=amount]:checked"), bar = form.querySelector(".choose");
    if (chosen && bar) { bar.textContent = `${chosen.dataset.told}: ${bar.dataset.then}`; bar.classList.remove("missing"); }
  });
  form.addEventListener("submit", event => {
    event.preventDefault();
    const fields = Object.fromEntries(new FormData(form, event.submitter));
    if (missing(form, fields)) return;
    delete fields.entry; delete fields.token;
    const action = form.getAttribute("action"), id = identityOf(action, fields);
    const chosen = form.querySelector("input[name=amount]:checked");
    const told = chosen ? chosen.dataset.told : form.dataset.told ? [form.dataset.told, fields.grams && fields.grams + " g", fields.text].filter(Boolean).join(", ") : fields.words;
    if (!read().some(entry => entry.id === id)) write([...read(), {id, action, fields, told, pressed: Date.now()}]);
    send().then(() => {
      const waits = read().find(entry => entry.id === id);
      if (!waits) return;
      if (!waits.refused) { form.reset(); document.getElementById("waiting").scrollIntoView(); }
    });
  });
}

function count() {
  const left = document.querySelector("[data-look-again]");
  if (!left) return;
  // How far this phone's clock is ahead is learned from answers that came just now, never from a page that was kept.
  const seconds = Number(left.dataset.lookAgain) - (Math.round(Date.now() / 1000) - Number(localStorage.getItem(AHEAD) || 0));
  left.textContent = seconds > 0 ? left.dataset.left.replace("#", Math.ceil(seconds / 60)) : left.dataset.due;
}

// The list as the server has it. Lines that stay are not touched, so that no thumb on them is led astray.
function relist(told) {
  const list = document.querySelector(".given");
  if (!told || !list) return;
  const lines = [...told.content.children], shown = [...list.children];
  const lasting = each => each.map(line => {
    const kept = line.cloneNode(true);
    for (const ago of kept.querySelectorAll("[data-ago]")) ago.remove();
    return kept.innerHTML;
  }).join();
  if (lasting(lines) === lasting(shown)) {
    shown.forEach((line, n) => line.querySelector("[data-ago]")?.replaceWith(lines[n].querySelector("[data-ago]")));
    return;
  }
  const held = list.contains(document.activeElement) && document.activeElement.form?.elements.change.value;
  list.replaceChildren(...lines);
  if (held) list.querySelector(`input[value="${held}"]`)?.form.querySelector("button").focus();
}

async function share() {
  const place = document.getElementById("shared");
  if (!place || document.hidden) return;
  try {
    const answer = await fetch(base + "/now", {signal: AbortSignal.timeout(15000)});
    if (answer.ok) {
      const told = new DOMParser().parseFromString(await answer.text(), "text/html");
      const list = told.querySelector("template");
      list?.remove();
      place.replaceChildren(...told.body.childNodes);
      relist(list);
      const now = place.querySelector("[data-now]");
      if (now) localStorage.setItem(AHEAD, Math.round(Date.now() / 1000) - Number(now.dataset.now));
    }
    network(true);
  } catch (gone) { network(false); }
  count();
}

show();
count();
share();
send();
setInterval(count, 5000);
setInterval(share, 20000);
setInterval(send, 20000);
addEventListener("online", send);
document.addEventListener("visibilitychange", share);
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js");
