// Mouse, touch and keys on the picture. Calls `did` after each movement of the camera, `home`
// for the start view, `tap(x, y)` for a short touch, in fractions of the picture from its middle.
function makeHand(stage, camera, { did, home, tap }) {
  const down = new Map();
  let touch = null; // where and when a single finger came down, until it moves
  stage.addEventListener("pointerdown", (e) => {
    stage.setPointerCapture(e.pointerId);
    down.set(e.pointerId, [e.clientX, e.clientY]);
    touch = down.size === 1 && e.button === 0 ? [e.clientX, e.clientY, e.timeStamp] : null;
  });
  stage.addEventListener("pointerup", (e) => {
    down.delete(e.pointerId);
    if (!touch || e.timeStamp - touch[2] > 600) return;
    touch = null;
    const box = stage.getBoundingClientRect();
    tap(((e.clientX - box.left) / box.width) * 2 - 1, 1 - ((e.clientY - box.top) / box.height) * 2);
  });
  stage.addEventListener("pointercancel", (e) => down.delete(e.pointerId));
  stage.addEventListener("pointermove", (e) => {
    const was = down.get(e.pointerId);
    if (!was) return;
    if (touch) {
      // A hand that shakes is still for these few pixels.
      if (Math.hypot(e.clientX - touch[0], e.clientY - touch[1]) < 6) return;
      touch = null;
    }
    const now = [e.clientX, e.clientY];
    const [dx, dy] = [now[0] - was[0], now[1] - was[1]];
    const tall = stage.clientHeight;
    if (down.size === 2) {
      const other = [...down].find(([id]) => id !== e.pointerId)[1];
      const gap = (p) => Math.max(10, Math.hypot(p[0] - other[0], p[1] - other[1]));
      camera.nearer(gap(was) / gap(now));
      camera.shift(dx / 2 / tall, dy / 2 / tall);
    } else if (e.shiftKey || e.buttons > 1) {
      camera.shift(dx / tall, dy / tall);
    } else {
      camera.turn((dx / tall) * 3.5, (dy / tall) * 3.5);
    }
    down.set(e.pointerId, now);
    did();
  });
  stage.addEventListener("contextmenu", (e) => e.preventDefault());
  stage.addEventListener("wheel", (e) => {
    e.preventDefault();
    camera.nearer(Math.exp(Math.max(-60, Math.min(60, e.deltaY * (e.deltaMode ? 20 : 1))) * 0.004));
    did();
  }, { passive: false });
  stage.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.altKey || e.metaKey) return;
    const arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    if (arrow && e.shiftKey) camera.shift(arrow[0] * 0.04, arrow[1] * 0.04);
    else if (arrow) camera.turn(arrow[0] * 0.12, arrow[1] * 0.12);
    else if (e.key === "+" || e.key === "=") camera.nearer(0.88);
    else if (e.key === "-" || e.key === "_") camera.nearer(1 / 0.88);
    else if (e.key === "Home" || e.key === "0") home("home");
    else return;
    e.preventDefault();
    did();
  });
}
