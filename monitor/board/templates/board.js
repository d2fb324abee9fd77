(function () {
  'use strict';
  function made(tag, text, parent) {
    var node = document.createElement(tag);
    if (text) node.textContent = text;
    parent.appendChild(node);
    return node;
  }
  function all(selector, inside) { return Array.prototype.slice.call((inside || document).querySelectorAll(selector)); }

  /* The roster: filtered and put in order. */
  (function () {
    var list = document.querySelector('ol.roster, ol.coach'), tools = document.getElementById('tools');
    if (!list || !tools || list.children.length < 2) return;
    function rowsNow() { return Array.prototype.slice.call(list.children); }
    var rows = rowsNow();
    function field(label, tag) {
      var box = made('label', '', tools);
      made('span', label, box);
      return made(tag, '', box);
    }
    function choices(select, pairs) {
      pairs.forEach(function (pair) { made('option', pair[1], select).value = pair[0]; });
    }
    var name = field('name', 'input'), need = field('who', 'select'), stage = field('stage', 'select'), order = field('order', 'select');
    name.type = 'search';
    name.autocomplete = 'off';
    choices(need, [['', 'everybody'], ['open', 'who needs a word'], ['now', 'who needs it now']]);
    var stages = rows.map(function (row) { return row.dataset.stage; }).filter(function (word, at, of) { return word && of.indexOf(word) === at; });
    choices(stage, [['', 'every stage']].concat(stages.map(function (word) { return [word, word.replace(/_/g, ' ')]; })));
    choices(order, [['rank', 'who needs a word first'], ['name', 'name'], ['day', 'day of the plan'], ['file', 'last file, oldest first']]);
    var said = made('p', rows.length + ' athletes', tools);
    said.setAttribute('role', 'status');
    function fits(row) {
      var data = row.dataset;
      return data.name.indexOf(name.value.trim().toLowerCase()) >= 0 && (!stage.value || data.stage === stage.value) &&
        (!need.value || (need.value === 'open' ? data.need !== 'not' : data.need === need.value));
    }
    function before(a, b) {
      var key = order.value, one = a.dataset[key], other = b.dataset[key];
      return (key === 'name' ? one.localeCompare(other) : one - other) || a.dataset.rank - b.dataset.rank;
    }
    function show() {
      var shown = 0;
      rows = rowsNow();
      list.classList.toggle('by-rank', order.value === 'rank');
      rows.slice().sort(before).forEach(function (row) {
        var fit = fits(row);
        row.hidden = !fit;
        if (fit) shown += 1;
        list.appendChild(row);
      });
      said.textContent = shown === rows.length ? rows.length + ' athletes' : shown + ' of ' + rows.length + ' athletes';
    }
    [name, need, stage, order].forEach(function (control) { control.addEventListener('input', show); });
  })();

  /* The pictures: the value at the mark that is pointed at, touched, or reached with the arrow keys. */
  all('.plot[data-at]').forEach(function (plot) {
    var at = plot.dataset.at.split(' ').map(Number), words = plot.dataset.said.split('\n');
    var chart = plot.querySelector('svg'), title = chart.querySelector('title');
    var line = null, said = null, now = -1;
    function show(index) {
      if (!line) {
        line = document.createElementNS(chart.namespaceURI, 'line');
        line.setAttribute('class', 'pointer');
        line.setAttribute('y1', '0');
        line.setAttribute('y2', '100%');
        chart.appendChild(line);
        said = made('p', '', plot);
        said.className = 'told-value';
        said.setAttribute('role', 'status');
      }
      now = Math.max(0, Math.min(at.length - 1, index));
      line.setAttribute('x1', at[now] * 100 + '%');
      line.setAttribute('x2', at[now] * 100 + '%');
      line.removeAttribute('visibility');
      said.textContent = words[now];
    }
    function hide() {
      if (!line || document.activeElement === plot) return;
      line.setAttribute('visibility', 'hidden');
      said.textContent = '';
    }
    function point(event) {
      var box = chart.getBoundingClientRect(), share = (event.clientX - box.left) / box.width, nearest = 0;
      at.forEach(function (place, index) { if (Math.abs(place - share) < Math.abs(at[nearest] - share)) nearest = index; });
      show(nearest);
    }
    plot.tabIndex = 0;
    plot.setAttribute('role', 'group');
    plot.setAttribute('aria-label', (title ? title.textContent : '') + '; the arrow keys tell the values');
    plot.addEventListener('pointermove', point);
    plot.addEventListener('pointerdown', point);
    plot.addEventListener('pointerleave', hide);
    plot.addEventListener('focus', function () { show(now < 0 ? at.length - 1 : now); });
    plot.addEventListener('blur', hide);
    plot.addEventListener('keydown', function (event) {
      var step = {ArrowLeft: -1, ArrowRight: 1, Home: -at.length, End: at.length}[event.key];
      if (!step) return;
      event.preventDefault();
      show(now + step);
    });
  });
})();
