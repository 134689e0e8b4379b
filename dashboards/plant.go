package dashboards

import "bridlewatch/dashboards/plant"

// The vocabulary of package plant, under the names the service uses.
type (
	Plant             = plant.Plant
	GaugeView         = plant.GaugeView
	InstrumentReading = plant.InstrumentReading
	Role              = plant.Role
	Health            = plant.Health
	SourceHealth      = plant.SourceHealth
	UnitHealth        = plant.UnitHealth
	ScanHealth        = plant.ScanHealth
	StoreHealth       = plant.StoreHealth
	ClockHealth       = plant.ClockHealth
	ForwardHealth     = plant.ForwardHealth
	Alerts            = plant.Alerts
	Alert             = plant.Alert
	AlertLine         = plant.AlertLine
	Desk              = plant.Desk
	Actor             = plant.Actor
	Trust             = plant.Trust
	Encryption        = plant.Encryption
	Certificate       = plant.Certificate
)
