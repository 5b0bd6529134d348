// The report shows the solids that stand in it.
(() => {
  const bodies = document.getElementById("bodies"), arrival = document.getElementById("arrival");
  const view = bodies && makeView();
  if (view) view.show(JSON.parse(bodies.textContent));
  if (view && arrival) view.fill(JSON.parse(arrival.textContent));
  followFront();
})();
