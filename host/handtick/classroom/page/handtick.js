// The page: what the room tells goes to the views, what people do goes to the room.

import { draw, room as columns } from "/drawing.js";
import { History } from "/history.js";
import { Link } from "/link.js";
import * as view from "/view.js";

const SPEAK_MS = 2000;
const ALERT_MS = 6000;

const byId = (id) => document.getElementById(id);
const known = { clock: null, room: null, you: null, buses: [], word: "", boot: null };
const ticks = new History();
let drawing = false;
const spoken = { at: 0, ran: false, made: 0 };
let alertTimer = 0;

const link = new Link({ message, link: (words) => view.write("link", words), outside });

// What comes.

function message(said) {
  if (said.hello) {
    hello(said.hello);
  }
  if (said.you) {
    known.you = said.you;
    document.body.classList.toggle("watching", said.you.role === "screen");
    view.write("who", said.you.role === "screen" ? `Join at ${location.host} with the room word ${known.word}` : said.you.name);
  }
  if (said.room) {
    known.room = said.room;
  }
  if (said.clock) {
    clock(said.clock);
  }
  if (said.back) {
    ticks.add(said.back);
  }
  if (said.called) {
    view.write("my-call", `You called ${said.called.bus} ${said.called.value} for tick ${said.called.tick}.`);
  }
  if (said.export !== undefined) {
    save(said.export);
  }
  if (said.refused || said.said) {
    alarm(said.refused || said.said);
  }
  redraw();
}

function hello(told) {
  known.buses = told.buses;
  known.word = told.word;
  view.write("title", told.title);
  view.write("room-word", told.word);
  view.options("call-bus", told.buses, "");
  view.options("ask-bus", told.buses, "nothing");
  view.write("why", "");
  document.body.classList.remove("outside");
  byId("rows").replaceChildren();
}

function clock(told) {
  if (known.boot !== told.boot) {
    known.boot = told.boot;
    ticks.clear();
    spoken.ran = false;
  }
  known.clock = told;
  ticks.take(told.new, told.whole);
  speak(told);
}

function outside(why) {
  document.body.classList.add("outside");
  view.write("link", "not connected");
  view.write("why", why);
  byId("word").focus();
}

// A screen reader hears each tick that is made by itself, and now and then how far a run has come.
function speak(told) {
  if (!spoken.ran) {
    spoken.made = 0;
  }
  const rests = !told.running && (spoken.ran || told.new.length > 0);
  spoken.ran = told.running;
  if (told.whole) {
    return;
  }
  spoken.made += told.new.length + told.skipped;
  if (rests || (told.running && Date.now() - spoken.at >= SPEAK_MS)) {
    const last = ticks.ticks.at(-1);
    view.write("spoken", rests && spoken.made === 1 ? view.spokenTick(known.buses, last) : `tick ${told.tick}, ${told.clock}`);
    spoken.at = Date.now();
  }
}

function alarm(words) {
  view.write("alert", words);
  clearTimeout(alertTimer);
  alertTimer = setTimeout(() => view.write("alert", ""), ALERT_MS);
}

function save(table) {
  const anchor = document.createElement("a");
  anchor.href = URL.createObjectURL(new Blob([table], { type: "text/csv" }));
  anchor.download = "calls.csv";
  anchor.click();
  setTimeout(() => URL.revokeObjectURL(anchor.href), 1000);
}

// What is drawn: once for all that came between two frames of the screen.

function redraw() {
  if (!drawing) {
    drawing = true;
    requestAnimationFrame(drawAll);
  }
}

function drawAll() {
  drawing = false;
  const { clock: told, room, you, buses } = known;
  if (!told || !room || !you) {
    return;
  }
  view.clockNow(told);
  view.busRows(buses, told.now);
  view.crank(room, you);
  view.lesson(room);
  view.answers(room);
  view.desk(room, you, does);
  call(room, told);
  picture();
}

function call(room, told) {
  const form = byId("call");
  if (room.asked && form.dataset.asked !== room.asked) {
    byId("call-bus").value = room.asked;
  }
  form.dataset.asked = room.asked;
  const next = told.tick + 1;
  const question = `What will tick ${next} put on ${room.asked || "a bus"}?`;
  view.write("question", told.half ? `Tick ${told.tick} is half done; tick ${next} can be called once it is over.` : question);
  if (form.dataset.tick !== String(next)) {
    form.dataset.tick = String(next);
    view.write("my-call", "");
  }
}

function picture() {
  const sheet = byId("sheet");
  const shown = ticks.shown(columns(known.buses, sheet.clientWidth));
  sheet.replaceChildren(draw(known.buses, shown, sheet.clientWidth));
  const past = ticks.end !== null;
  byId("later").disabled = byId("present").disabled = !past;
  const last = shown[shown.length - 1];
  view.write("looking", past && last ? `looking at tick ${last.tick}; the clock is at tick ${known.clock.tick}` : "");
  view.write("note-tick", String(last ? last.tick : 0));
}

// What people do. What was not asked for is still there to be asked for again.

function does(what) {
  const sent = link.send(what);
  if (!sent) {
    alarm("there is no connection; nothing was asked for");
  }
  return sent;
}

function doesOnce(field, what) {
  if (does(what)) {
    byId(field).value = "";
  }
}

function on(id, event, act) {
  byId(id).addEventListener(event, (happened) => {
    happened.preventDefault();
    act();
  });
}

function look(by) {
  const count = columns(known.buses, byId("sheet").clientWidth);
  const first = ticks.ticks[0];
  if (!ticks.move(by * count, count) && first) {
    does({ do: "back", reset: first.reset, last: Math.max(0, first.tick - 1) });
  }
  redraw();
}

for (const deed of ["step", "half", "halt", "reset", "return", "wait", "leave", "take", "next", "export"]) {
  on(deed, "click", () => does({ do: deed }));
}
on("run", "submit", () => does({ do: "run", rate: byId("rate").value }));
on("to", "submit", () => {
  const tick = byId("to-tick").value.trim();
  if (/^[0-9]{1,15}$/.test(tick)) {
    does({ do: "to", tick: Number(tick) });
  } else {
    alarm("a tick is a whole number");
  }
});
on("earlier", "click", () => look(-1));
on("later", "click", () => look(1));
on("present", "click", () => {
  ticks.end = null;
  redraw();
});
on("call", "submit", () => {
  const { reset, tick } = known.clock;
  doesOnce("call-value", { do: "call", bus: byId("call-bus").value, value: byId("call-value").value, reset, tick: tick + 1 });
});
on("note", "submit", () => {
  const count = columns(known.buses, byId("sheet").clientWidth);
  const last = ticks.shown(count).at(-1);
  doesOnce("note-text", { do: "note", text: byId("note-text").value, reset: last ? last.reset : known.clock.reset, tick: last ? last.tick : 0 });
});
on("ask", "submit", () => does({ do: "ask", bus: byId("ask-bus").value }));
on("allow", "submit", () =>
  does({ do: "allow", rate: byId("allow-rate").value, reset: byId("allow-reset").checked, notes: byId("allow-notes").checked }),
);
byId("open-door").addEventListener("change", () => does({ do: "door", open: byId("open-door").checked }));
on("join", "submit", () => {
  const word = byId("word").value;
  link.begin(sessionStorage.getItem("watch") ? { do: "watch", word } : { do: "join", name: byId("name").value, word });
});
document.addEventListener("keydown", (event) => {
  if (event.key === " " && event.target === document.body && !event.repeat && !byId("drive").hidden) {
    event.preventDefault();
    does({ do: "step" });
  }
});
new ResizeObserver(redraw).observe(byId("sheet"));

// The teacher's secret comes behind the # of the address, which no server is told, and leaves it at once.
const [, kind, secret] = location.hash.match(/^#(teach|watch)=?(.*)$/) || [];
if (kind) {
  history.replaceState(null, "", "/");
  sessionStorage.removeItem("seat");
  sessionStorage.setItem(kind, secret || "yes");
}
if (sessionStorage.getItem("watch")) {
  byId("name-label").hidden = true;
  byId("name").required = false;
}
const teach = sessionStorage.getItem("teach");
link.begin(teach ? { do: "teach", word: teach } : null);
