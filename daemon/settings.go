package daemon

import (
	"slices"
	"strings"

	"gopkg.in/yaml.v3"

	"conditiond/alerts/notify"
	"conditiond/daemon/web"
)

// sections of the configuration as the page shows them. Secrets stand in files
// and print as "…" by themselves.
func (c *Config) sections() ([]web.Section, error) {
	shown := *c
	shown.Notify = slices.Clone(c.Notify)
	for i, n := range shown.Notify {
		if n.Ntfy != nil {
			shown.Notify[i].Ntfy = withoutTopic(*n.Ntfy)
		}
	}
	text, err := yaml.Marshal(shown)
	if err != nil {
		return nil, err
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(text, &doc); err != nil {
		return nil, err
	}
	var all []web.Section
	for key, value := range pairs(doc.Content[0]) {
		all = append(all, sectionsOf(key, value)...)
	}
	return all, nil
}

// withoutTopic leaves a server's address: whoever knows the topic can read it.
func withoutTopic(n notify.Ntfy) *notify.Ntfy {
	if server, _, err := n.Topic(); err == nil {
		n.URL = server.JoinPath("…").String()
		n.URL = strings.Replace(n.URL, "%E2%80%A6", "…", 1)
	}
	return &n
}

// sectionsOf a part: each sensor and each recipient has one of its own.
func sectionsOf(key string, value *yaml.Node) []web.Section {
	var all []web.Section
	switch {
	case key == "sensors":
		for name, x := range pairs(value) {
			all = append(all, web.Section{Part: key, Name: name, Rows: rows("", x)})
		}
	case key == "notify":
		for _, x := range value.Content {
			s := web.Section{Part: key, Rows: rows("", x)}
			for name, y := range pairs(x) {
				if name == "name" {
					s.Name = y.Value
				}
			}
			all = append(all, s)
		}
	default:
		if list := rows("", value); len(list) > 0 {
			all = append(all, web.Section{Part: key, Rows: list})
		}
	}
	return all
}

// rows of all that is set, by its path.
func rows(path string, value *yaml.Node) []web.Setting {
	var all []web.Setting
	switch {
	case value.Kind == yaml.MappingNode:
		for key, x := range pairs(value) {
			all = append(all, rows(strings.TrimPrefix(path+"."+key, "."), x)...)
		}
	case value.Kind == yaml.SequenceNode:
		var list []string
		for _, x := range value.Content {
			list = append(list, x.Value)
		}
		all = append(all, web.Setting{Name: path, Value: strings.Join(list, ", ")})
	case value.Tag != "!!null" && value.Value != "" && value.Value != "0" && value.Value != "0s": // zero is what holds without a line
		all = append(all, web.Setting{Name: path, Value: value.Value})
	}
	return all
}

// pairs of a mapping, in its order.
func pairs(m *yaml.Node) func(func(string, *yaml.Node) bool) {
	return func(yield func(string, *yaml.Node) bool) {
		for i := 0; i+1 < len(m.Content); i += 2 {
			if !yield(m.Content[i].Value, m.Content[i+1]) {
				return
			}
		}
	}
}
