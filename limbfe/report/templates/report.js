(function () {
  var place = document.getElementById("scene");
  var button = document.getElementById("turn");
  function load() {
    var frame = document.createElement("iframe");
    frame.title = place.dataset.name;
    frame.setAttribute("sandbox", "allow-scripts");
    frame.srcdoc = JSON.parse(document.getElementById("page").textContent);
    place.appendChild(frame);
    button.remove();
  }
  // A finger that scrolls the page should not catch on the bow: on touch screens it comes when asked.
  if (window.matchMedia("(pointer: coarse)").matches) button.addEventListener("click", load);
  else load();
})();
