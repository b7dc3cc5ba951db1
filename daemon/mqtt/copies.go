package mqtt

import (
	paho "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"
)

// copies is the library's memory of what isn't acknowledged, of copies: on a
// new connection it marks those as sent again while the same message may still
// be on its way out, a data race with itself (v1.5.1).
type copies struct{ *paho.MemoryStore }

func (c copies) Put(key string, p packets.ControlPacket) { c.MemoryStore.Put(key, twin(p)) }

func (c copies) Get(key string) packets.ControlPacket { return twin(c.MemoryStore.Get(key)) }

func twin(p packets.ControlPacket) packets.ControlPacket {
	if message, ok := p.(*packets.PublishPacket); ok {
		other := *message
		return &other
	}
	return p
}
