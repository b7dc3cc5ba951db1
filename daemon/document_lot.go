package daemon

import (
	"fmt"
	"maps"
	"slices"

	"conditiond/model"
	"conditiond/model/plan"
)

// LoadLot reads and checks a lot document, YAML or JSON; "-" is the standard
// input. The error is Faults, all of them, or says why the file can't be read.
func LoadLot(path string) (model.Lot, error) { return (*Config)(nil).LoadLot(path) }

// ParseLot is LoadLot for a document at hand; file names it in faults.
func ParseLot(file string, data []byte) (model.Lot, error) {
	return (*Config)(nil).parseLot(file, data)
}

// LoadLot also checks that the lot's space and sensor are configured.
func (c *Config) LoadLot(path string) (model.Lot, error) {
	data, err := readDocument(path)
	if err != nil {
		return model.Lot{}, fmt.Errorf("read the lot document: %w", err)
	}
	return c.parseLot(path, data)
}

// LoadDraft reads the document of a lot that is still being planned: what
// nobody knows yet, the time, the space and how much sugar, may be missing.
func LoadDraft(path string) (model.Lot, error) {
	data, err := readDocument(path)
	if err != nil {
		return model.Lot{}, fmt.Errorf("read the lot document: %w", err)
	}
	return (*Config)(nil).parse(path, data, plan.Check)
}

func (c *Config) parseLot(file string, data []byte) (model.Lot, error) {
	return c.parse(file, data, model.Lot.Check)
}

// parse a document and check it.
func (c *Config) parse(file string, data []byte, check func(model.Lot) []model.Fault) (model.Lot, error) {
	d := &document{file: file}
	var lot model.Lot
	d.decode(data, &lot)
	for _, f := range check(lot) {
		d.fault(f.Path, "%s", f.Problem)
	}
	if c != nil {
		c.checkLot(d, lot)
	}
	if _, err := d.result(); err != nil {
		return model.Lot{}, err
	}
	lot.PackagedAt = lot.PackagedAt.UTC()
	return lot, nil
}

func (c *Config) checkLot(d *document, lot model.Lot) {
	if _, ok := c.Spaces[lot.Space]; !ok && lot.Space != "" {
		d.fault("space", "%s: no such space in the configuration%s", brief(lot.Space), meant(lot.Space, slices.Sorted(maps.Keys(c.Spaces))))
	}
	if g := lot.GaugeBottle; g != nil && g.Sensor != "" {
		configCheck{document: d, Config: c}.refers("gauge_bottle.sensor", g.Sensor, model.Pressure)
	}
}
