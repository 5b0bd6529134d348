// The report shows the solids that stand in it.
(() => {
  const bodies = document.getElementById("bodies");
  const view = bodies && makeView();
  if (view) view.show(JSON.parse(bodies.textContent));
  followFront();
})();
