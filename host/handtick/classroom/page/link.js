// The connection to the room. It comes back by itself, to the same seat.

const AGAIN_MS = [500, 1000, 2000, 4000];
// The room says something every four seconds at least; after three times that the network is taken to be gone.
const SILENT_MS = 12000;
// Closed for a reason that trying again would not mend: see the server's codes.
const FINAL = [4001, 4002, 4003];

export class Link {
  // told: { message(object), link(text), outside(why) }.
  constructor(told) {
    this.told = told;
    this.socket = null;
    this.tries = 0;
    this.first = null;
    this.silence = 0;
  }

  // How to join when there is no seat to come back to, such as {do: "join", ...}.
  begin(first) {
    this.first = first;
    this.tries = 0;
    this.open();
  }

  open() {
    const seat = sessionStorage.getItem("seat");
    const first = seat ? { do: "sit", seat } : this.first;
    if (!first) {
      this.told.outside("");
      return;
    }
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${location.host}/live`);
    this.socket = socket;
    this.listen(socket);
    socket.onopen = () => socket.send(JSON.stringify(first));
    socket.onmessage = (event) => {
      this.listen(socket);
      const said = JSON.parse(event.data);
      if (said.hello) {
        sessionStorage.setItem("seat", said.hello.seat);
        this.tries = 0;
        this.told.link("connected");
      }
      this.told.message(said);
    };
    socket.onclose = (event) => this.closed(event, Boolean(seat));
  }

  // Nobody says goodbye where the network is gone, and a closing handshake would wait for an answer too.
  listen(socket) {
    clearTimeout(this.silence);
    this.silence = setTimeout(() => {
      socket.onmessage = socket.onclose = null;
      socket.close();
      this.closed({}, false);
    }, SILENT_MS);
  }

  closed(event, bySeat) {
    clearTimeout(this.silence);
    this.socket = null;
    if (FINAL.includes(event.code)) {
      sessionStorage.removeItem("seat");
      if (bySeat && event.code === 4001 && this.first) {
        // The server has begun anew and knows no seats.
        this.open();
        return;
      }
      this.first = null;
      this.told.outside(event.reason || "the room let nobody in");
      return;
    }
    this.told.link("connection lost; coming back by itself");
    const wait = AGAIN_MS[Math.min(this.tries, AGAIN_MS.length - 1)];
    this.tries += 1;
    setTimeout(() => this.open(), wait);
  }

  // Whether it could be sent: what is asked for while there is no connection is not asked for later.
  send(what) {
    if (this.socket === null || this.socket.readyState !== WebSocket.OPEN) {
      return false;
    }
    this.socket.send(JSON.stringify(what));
    return true;
  }
}
