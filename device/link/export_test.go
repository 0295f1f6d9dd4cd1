package link

// WithPorts returns o with another list of ports.
func WithPorts(o Options, list func() ([]PortInfo, error)) Options {
	o.list = list
	return o
}
