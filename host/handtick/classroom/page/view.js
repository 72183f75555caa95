// Shows what the room says. Everything that people typed or that a file says goes in as text, never as markup.

const byId = (id) => document.getElementById(id);

export function show(id, wanted) {
  byId(id).hidden = !wanted;
}

export function write(id, words) {
  put(byId(id), words);
}

export function clockNow(clock) {
  write("number", String(clock.tick));
  write("clock", `${clock.clock}${clock.running ? ` at ${clock.rate} Hz` : ""}`);
  write("said", clock.said);
  show("not-live", !clock.live);
  document.title = `tick ${clock.tick}`;
}

export function busRows(buses, now) {
  const body = byId("rows");
  buses.forEach((bus, place) => {
    const [before, after, changed] = now[place];
    let row = body.children[place];
    if (!row) {
      row = body.appendChild(made("tr", ""));
      row.append(made("th", bus.name), made("td", ""), made("td", ""));
      row.firstChild.scope = "row";
    }
    put(row.children[1], before);
    put(row.children[2], after);
    row.className = changed ? "changed" : "";
  });
}

// What a screen reader says of one tick: what changed, or that nothing did.
export function spokenTick(buses, tick) {
  const moved = buses
    .map((bus, place) => (tick.before[place] === tick.after[place] ? "" : `${bus.name} ${tick.after[place]}`))
    .filter(Boolean);
  return `tick ${tick.tick}: ${moved.join(", ") || "nothing changed"}`;
}

export function answers(told) {
  show("answers", told.answers.length > 0 || told.called > 0);
  write("called", told.called ? `${told.called} ${told.called === 1 ? "has" : "have"} called the next tick.` : "");
  const blocks = [...told.answers].reverse().map((answer) => {
    const all = answer.tally.reduce((sum, [, count]) => sum + count, 0);
    const block = made("div", "");
    block.className = "tally";
    block.append(made("p", `Tick ${answer.tick}: ${answer.bus} held ${answer.value}; ${answer.right} of ${all} called it.`));
    const list = made("ol", "");
    for (const [value, count] of answer.tally) {
      const item = made("li", "");
      item.className = value === answer.value ? "held" : "";
      const bar = made("span", "");
      bar.className = "bar";
      bar.style.width = `${(100 * count) / all}%`;
      item.append(made("span", value), bar, made("span", String(count)));
      list.append(item);
    }
    block.append(list);
    return block;
  });
  byId("tallies").replaceChildren(...blocks);
}

export function crank(told, you) {
  const mine = told.holder === you.number;
  write("holder", mine ? "You have the crank." : `${capital(told.holder_name)} ${told.holder === null && teaches(you) ? "(you) " : ""}has the crank.`);
  const names = told.waiting.map(([, name]) => name);
  const more = told.waiting_more ? ` and ${told.waiting_more} more` : "";
  write("row-of", names.length ? `Waiting: ${names.join(", ")}${more}.` : "Nobody waits for it.");
  const waits = told.waiting.some(([number]) => number === you.number);
  show("wait", !waits && !mine && you.role === "pupil");
  show("leave", waits);
  show("drive", mine || teaches(you));
  show("return", mine);
  byId("reset").disabled = !(teaches(you) || told.may_reset);
  for (const control of byId("notes").querySelectorAll("input, button")) {
    control.disabled = !(teaches(you) || told.may_note);
  }
}

export function lesson(told) {
  show("lesson", told.lesson !== null);
  if (told.lesson === null) {
    return;
  }
  const { title, say, difference } = told.lesson;
  write("lesson-h", title);
  write("say", say);
  show("difference", difference !== null);
  if (difference !== null) {
    const lines = difference.lines.map(([bus, want, got]) => `${bus} should be ${want} and is ${got}`);
    write("difference", `First difference at tick ${difference.tick}: ${lines.join("; ")}.`);
  }
}

export function desk(told, you, does) {
  show("desk", teaches(you));
  if (!teaches(you)) {
    return;
  }
  byId("open-door").checked = told.open;
  fill("allow-rate", "value", told.rate);
  fill("allow-reset", "checked", told.may_reset);
  fill("allow-notes", "checked", told.may_note);
  fill("ask-bus", "value", told.asked);
  show("stops", told.lesson !== null);
  if (told.lesson !== null) {
    const buttons = told.lesson.stops.map((tick, place) => {
      const button = made("button", `${place + 1}: tick ${tick}`);
      button.type = "button";
      button.setAttribute("aria-pressed", String(place === told.lesson.place));
      button.onclick = () => does({ do: "stop", place });
      return button;
    });
    refill("stop-row", buttons);
  }
  const people = you.people.map(([number, name, role, here]) => {
    const item = made("li", "");
    item.className = here ? "" : "gone";
    item.append(made("span", here ? name : `${name} (gone)`));
    item.append(deed("Give the crank", `Give the crank to ${name}`, here && role === "pupil", () => does({ do: "give", person: number })));
    item.append(deed("Send out", `Send ${name} out`, true, () => does({ do: "remove", person: number })));
    return item;
  });
  refill("people", people);
}

export function options(id, buses, empty) {
  const choices = buses.map((bus) => made("option", bus.name));
  if (empty) {
    const none = made("option", empty);
    none.value = "";
    choices.unshift(none);
  }
  byId(id).replaceChildren(...choices);
  delete byId(id).dataset.told;
}

function teaches(you) {
  return you.role === "teacher";
}

function deed(words, spoken, enabled, act) {
  const button = made("button", words);
  button.type = "button";
  button.setAttribute("aria-label", spoken);
  button.disabled = !enabled;
  button.onclick = act;
  return button;
}

// Puts new children in, keeping the focus where it was by its words.
function refill(id, children) {
  const node = byId(id);
  const focused = node.contains(document.activeElement) ? document.activeElement : null;
  const words = focused && (focused.getAttribute("aria-label") || focused.textContent);
  node.replaceChildren(...children);
  if (words) {
    [...node.querySelectorAll("button")].find((each) => (each.getAttribute("aria-label") || each.textContent) === words)?.focus();
  }
}

// A field's value, where it is told anew: what somebody has put in and not sent yet stays.
function fill(id, property, value) {
  const field = byId(id);
  if (field.dataset.told !== String(value)) {
    field.dataset.told = String(value);
    field[property] = value;
  }
}

function put(node, words) {
  if (node.textContent !== words) {
    node.textContent = words;
  }
}

function made(kind, words) {
  const node = document.createElement(kind);
  node.textContent = words;
  return node;
}

function capital(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}
