// The ticks this page knows, and which of them it looks at: the latest, or earlier ones while the clock goes on.

const MOST = 4000;

export class History {
  constructor() {
    this.ticks = [];
    this.end = null;
  }

  // News of ticks; `whole` stands for everything the server shows to whoever comes now.
  take(fresh, whole) {
    const last = this.ticks[this.ticks.length - 1];
    for (const tick of fresh) {
      if (!whole || !last || after(tick, last)) {
        this.ticks.push(tick);
      }
    }
    const extra = this.ticks.length - MOST;
    if (extra > 0) {
      this.ticks.splice(0, extra);
      this.end = this.end === null ? null : Math.max(1, this.end - extra);
    }
  }

  // Earlier ticks that were asked for.
  add(earlier) {
    const first = this.ticks[0];
    const fresh = earlier.filter((tick) => !first || after(first, tick));
    this.ticks.unshift(...fresh);
    this.end = this.end === null ? null : this.end + fresh.length;
    return fresh.length;
  }

  // Forgets everything: another board, or another start of it.
  clear() {
    this.ticks = [];
    this.end = null;
  }

  // The ticks to show where there is room for so many.
  shown(count) {
    const end = this.end === null ? this.ticks.length : this.end;
    return this.ticks.slice(Math.max(0, end - count), end);
  }

  // Moves by so many ticks; false where the first one known is shown already.
  move(by, count) {
    const end = (this.end === null ? this.ticks.length : this.end) + by;
    if (by < 0 && end < Math.min(count, this.ticks.length)) {
      this.end = Math.min(count, this.ticks.length);
      return false;
    }
    this.end = end >= this.ticks.length ? null : end;
    return true;
  }
}

function after(tick, other) {
  return tick.reset > other.reset || (tick.reset === other.reset && tick.tick > other.tick);
}
