"use strict";
// The outbox: an entry is written down on the phone before it is sent, and leaves it when the answer says it is logged.
const BOX = "gramrise-outbox";
const base = document.body.dataset.base;
const read = () => JSON.parse(localStorage.getItem(BOX) || "[]");
const write = list => { localStorage.setItem(BOX, JSON.stringify(list)); show(); };
const identity = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), b => b.toString(16).padStart(2, "0")).join("");
let sending = false;

function show() {
  const place = document.getElementById("waiting");
  if (!place) return;
  const mine = read().filter(entry => entry.action.startsWith(base + "/"));
  place.hidden = mine.length === 0;
  place.querySelector("ul").replaceChildren(...mine.map(entry => {
    const line = document.createElement("li");
    const at = new Date(entry.pressed).toLocaleTimeString([], {hour: "2-digit", minute: "2-digit"});
    line.textContent = `${entry.told}, ${at} `;
    if (entry.refused) {
      const away = document.createElement("button");
      away.textContent = place.dataset.away;
      away.onclick = () => write(read().filter(other => other.id !== entry.id));
      line.append(`${place.dataset.refused} ${entry.refused} `, away);
    }
    return line;
  }));
}

function network(there) {
  const told = document.getElementById("no-network");
  if (told) told.hidden = there;
}

async function send() {
  if (sending) return;
  sending = true;
  let logged = false;
  try {
    for (const entry of read().filter(each => !each.refused && each.action.startsWith(base + "/"))) {
      const token = document.querySelector("input[name=token]").value;
      const waited = Math.max(0, (Date.now() - entry.pressed) / 1000);
      const body = new URLSearchParams({...entry.fields, entry: entry.id, waited, token});
      let answer;
      try {
        answer = await fetch(entry.action, {method: "POST", body, headers: {Accept: "application/json"}, signal: AbortSignal.timeout(15000)});
      } catch (gone) { network(false); break; }
      network(true);
      if (answer.ok) { logged = true; write(read().filter(other => other.id !== entry.id)); }
      else if (answer.status === 409) { write(read().filter(other => other.id !== entry.id)); ask(entry, body); return; }
      else if (answer.status === 422) {
        const told = await answer.json();
        write(read().map(other => other.id === entry.id ? {...other, refused: told.problem} : other));
      } else break;
    }
  } finally { sending = false; }
  if (logged) location.replace(base + "/");
}

function ask(entry, body) {
  const form = document.createElement("form");
  form.method = "post";
  form.action = entry.action;
  for (const [name, value] of body) {
    const field = document.createElement("input");
    field.type = "hidden"; field.name = name; field.value = value;
    form.append(field);
  }
  document.body.append(form);
  form.submit();
}

for (const form of document.querySelectorAll("form[data-outbox]")) {
  form.elements.entry.value = identity();
  form.addEventListener("submit", event => {
    event.preventDefault();
    const fields = Object.fromEntries(new FormData(form, event.submitter));
    const id = fields.entry;
    delete fields.entry; delete fields.token;
    const chosen = form.querySelector("input[name=amount]:checked");
    const told = chosen ? chosen.dataset.told : form.dataset.told ? [form.dataset.told, fields.grams && fields.grams + " g", fields.text].filter(Boolean).join(", ") : fields.words;
    if (!read().some(entry => entry.id === id)) write([...read(), {id, action: form.getAttribute("action"), fields, told, pressed: Date.now()}]);
    send().then(() => {
      if (read().some(entry => entry.id === id)) { form.reset(); form.elements.entry.value = identity(); }
    });
  });
}

function count() {
  const left = document.querySelector("[data-look-again]");
  if (!left) return;
  left.dataset.ahead ??= Math.round(Date.now() / 1000) - Number(left.dataset.now);
  const seconds = Number(left.dataset.lookAgain) - (Math.round(Date.now() / 1000) - Number(left.dataset.ahead));
  left.textContent = seconds > 0 ? left.dataset.left.replace("#", Math.ceil(seconds / 60)) : left.dataset.due;
}

async function share() {
  const place = document.getElementById("shared");
  if (!place || document.hidden) return;
  try {
    const answer = await fetch(base + "/now", {signal: AbortSignal.timeout(15000)});
    if (answer.ok) {
      const told = new DOMParser().parseFromString(await answer.text(), "text/html");
      place.replaceChildren(...told.body.childNodes);
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
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js");
