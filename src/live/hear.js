// Hears what the program pushes: `take` has a function for each part; `away` when nothing is heard,
// `ended` when the program says so. The stream is let go in a hidden tab: a browser has only a few
// connections for one address.
function hear(take, away, ended) {
  let stream = null;
  function again() {
    stream = null;
    setTimeout(listen, 2000);
  }
  function listen() {
    if (stream || document.hidden) return;
    stream = new EventSource("events");
    for (const [name, show] of Object.entries(take)) {
      stream.addEventListener(name, (e) => show(JSON.parse(e.data)));
    }
    stream.addEventListener("error", () => {
      away();
      // A refused stream does not try again by itself.
      if (stream && stream.readyState === 2) again();
    });
    stream.addEventListener("end", () => {
      ended();
      stream.close();
      again();
    });
  }
  document.addEventListener("visibilitychange", () => {
    if (document.hidden && stream) {
      stream.close();
      stream = null;
    } else {
      listen();
    }
  });
  listen();
}
