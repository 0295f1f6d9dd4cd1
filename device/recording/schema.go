package recording

import (
	"fmt"

	"github.com/foxglove/mcap/go/mcap"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/descriptorpb"

	"aplomb/device"
)

// The channels of a recording. The channel of a foot is the foot plus one.
const (
	leftChannel   = 1 + uint16(device.Left)
	rightChannel  = 1 + uint16(device.Right)
	eventsChannel = 3
)

var topics = [...]string{leftChannel: "left", rightChannel: "right", eventsChannel: "events"}

// foreignChannel stands for every channel that another program has added to a file.
const foreignChannel = uint16(len(topics))

const (
	frameMessage = "aplomb.Frame"
	eventMessage = "aplomb.Event"
)

// schemas returns the schema records. Each holds the whole descriptor set, as
// MCAP requires for protobuf.
func schemas() ([]*mcap.Schema, error) {
	set, err := proto.MarshalOptions{Deterministic: true}.Marshal(descriptors())
	if err != nil {
		return nil, fmt.Errorf("message descriptors: %w", err)
	}
	return []*mcap.Schema{
		{ID: 1, Name: frameMessage, Encoding: "protobuf", Data: set},
		{ID: 2, Name: eventMessage, Encoding: "protobuf", Data: set},
	}, nil
}

// channels returns the channel records; a foot without a strip has none.
func channels(m device.Metadata) []*mcap.Channel {
	var out []*mcap.Channel
	for _, foot := range device.Feet {
		if m.Sides[foot] != nil {
			id := channelOf(foot)
			out = append(out, &mcap.Channel{ID: id, SchemaID: 1, Topic: topics[id], MessageEncoding: "protobuf"})
		}
	}
	return append(out, &mcap.Channel{ID: eventsChannel, SchemaID: 2, Topic: topics[eventsChannel], MessageEncoding: "protobuf"})
}

func channelOf(f device.Foot) uint16 { return 1 + uint16(f) }

// descriptors returns the descriptors that protoc makes of this file:
//
//	syntax = "proto3";
//	package aplomb;
//
//	message Frame {
//	  uint64 t_us = 1;               // the strip's clock, unwrapped
//	  uint64 arrival_ns = 2;         // the host's clock
//	  optional uint64 seq = 3;       // packet number, unwrapped
//	  repeated uint32 counts = 4;    // in the order of the strip's scan
//	  bool restarted = 5;            // the strip has started to count again before it
//	  fixed32 seal = 15;             // only in a .part: CRC-32 of the message record before it
//	}
//
//	message Event {
//	  int64 t_ns = 1;                // the host's clock
//	  string foot = 2;               // empty where it concerns the whole recording
//	  string kind = 3;               // gap, note, discard, reconnect, press
//	  string cause = 4;
//	  double length_s = 5;
//	  string text = 6;
//	  fixed32 seal = 15;             // as in Frame
//	}
func descriptors() *descriptorpb.FileDescriptorSet {
	type kind = descriptorpb.FieldDescriptorProto_Type
	const (
		i64 = descriptorpb.FieldDescriptorProto_TYPE_INT64
		u64 = descriptorpb.FieldDescriptorProto_TYPE_UINT64
		u32 = descriptorpb.FieldDescriptorProto_TYPE_UINT32
		f32 = descriptorpb.FieldDescriptorProto_TYPE_FIXED32
		f64 = descriptorpb.FieldDescriptorProto_TYPE_DOUBLE
		str = descriptorpb.FieldDescriptorProto_TYPE_STRING
		yes = descriptorpb.FieldDescriptorProto_TYPE_BOOL
	)
	field := func(number int32, name string, k kind) *descriptorpb.FieldDescriptorProto {
		return &descriptorpb.FieldDescriptorProto{
			Name: proto.String(name), JsonName: proto.String(camelCase(name)), Number: proto.Int32(number), Type: k.Enum(),
			Label: descriptorpb.FieldDescriptorProto_LABEL_OPTIONAL.Enum(),
		}
	}
	seq := field(3, "seq", u64)
	seq.Proto3Optional, seq.OneofIndex = proto.Bool(true), proto.Int32(0)
	counts := field(4, "counts", u32)
	counts.Label = descriptorpb.FieldDescriptorProto_LABEL_REPEATED.Enum()

	return &descriptorpb.FileDescriptorSet{File: []*descriptorpb.FileDescriptorProto{{
		Name: proto.String("aplomb.proto"), Package: proto.String("aplomb"), Syntax: proto.String("proto3"),
		MessageType: []*descriptorpb.DescriptorProto{
			{
				Name:      proto.String("Frame"),
				Field:     []*descriptorpb.FieldDescriptorProto{field(1, "t_us", u64), field(2, "arrival_ns", u64), seq, counts, field(5, "restarted", yes), field(sealField, "seal", f32)},
				OneofDecl: []*descriptorpb.OneofDescriptorProto{{Name: proto.String("_seq")}},
			},
			{
				Name: proto.String("Event"),
				Field: []*descriptorpb.FieldDescriptorProto{
					field(1, "t_ns", i64), field(2, "foot", str), field(3, "kind", str),
					field(4, "cause", str), field(5, "length_s", f64), field(6, "text", str),
					field(sealField, "seal", f32),
				},
			},
		},
	}}}
}

// camelCase returns the name that protoc gives a field in JSON: arrival_ns becomes arrivalNs.
func camelCase(name string) string {
	var out []byte
	for i := 0; i < len(name); i++ {
		if name[i] == '_' && i+1 < len(name) {
			i++
			out = append(out, name[i]-'a'+'A')
			continue
		}
		out = append(out, name[i])
	}
	return string(out)
}
