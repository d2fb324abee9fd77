(function () {
  'use strict';
  var list = document.querySelector('ol.roster'), tools = document.getElementById('tools');
  if (!list || !tools || list.children.length < 2) return;
  var rows = Array.prototype.slice.call(list.children);
  function made(tag, text, parent) {
    var node = document.createElement(tag);
    if (text) node.textContent = text;
    parent.appendChild(node);
    return node;
  }
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
  choices(need, [['', 'everybody'], ['open', 'who needs a word'], ['a word now', 'who needs it now']]);
  var stages = rows.map(function (row) { return row.dataset.stage; }).filter(function (word, at, all) { return word && all.indexOf(word) === at; });
  choices(stage, [['', 'every stage']].concat(stages.map(function (word) { return [word, word.replace(/_/g, ' ')]; })));
  choices(order, [['rank', 'who needs a word first'], ['name', 'name'], ['day', 'day of the plan'], ['file', 'last file, oldest first']]);
  var said = made('p', '', tools);
  said.setAttribute('role', 'status');
  function fits(row) {
    var data = row.dataset;
    return data.name.indexOf(name.value.trim().toLowerCase()) >= 0 && (!stage.value || data.stage === stage.value) &&
      (!need.value || (need.value === 'open' ? data.need !== 'nothing open' : data.need === need.value));
  }
  function before(a, b) {
    var key = order.value, one = a.dataset[key], other = b.dataset[key];
    return (key === 'name' ? one.localeCompare(other) : one - other) || a.dataset.rank - b.dataset.rank;
  }
  function show() {
    var shown = 0;
    rows.slice().sort(before).forEach(function (row) {
      var fit = fits(row);
      row.hidden = !fit;
      if (fit) shown += 1;
      list.appendChild(row);
    });
    said.textContent = shown === rows.length ? rows.length + ' athletes' : shown + ' of ' + rows.length + ' athletes';
  }
  [name, need, stage, order].forEach(function (control) { control.addEventListener('input', show); });
  show();
})();
