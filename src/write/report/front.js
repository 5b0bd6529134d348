// The slider of the melt front: bands that begin later than the time are dimmed.
function followFront() {
  const figure = document.getElementById("front");
  if (!figure) return;
  const slider = figure.querySelector("input");
  const last = Number(slider.dataset.last);
  const show = () => {
    const time = (last * slider.value) / slider.max;
    for (const band of figure.querySelectorAll(".band")) {
      band.classList.toggle("later", Number(band.dataset.from) > time - last / slider.max / 2);
    }
    figure.querySelector("output").textContent = time.toFixed(2) + " s";
  };
  slider.addEventListener("input", show);
  figure.querySelector(".control").hidden = false;
  show();
}
