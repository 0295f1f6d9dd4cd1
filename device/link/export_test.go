package link

// WithPorts returns o for a machine that has those ports, whenever it is asked.
func WithPorts(o Options, list func() ([]PortInfo, error)) Options {
	o.list = list
	return o
}
