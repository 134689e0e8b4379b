package scenario

import (
	"math"
	"time"
)

// Service is the weather around a gauge: everything that disturbs healthy
// instruments without being a fault of any of them.
type Service struct {
	Name string

	Composition      float64       // half width of density changes nobody is told of, as a fraction
	CompositionEvery time.Duration // mean time between them
	Campaign         float64       // kelvin: product temperature changes with the composition, half width
	Diurnal          float64       // kelvin, amplitude of day and night in the chamber
	Cooling          float64       // kelvin, standard deviation of the chamber's extra cooling (wind, rain)

	EchoJumps    float64 // single wild radar readings per day, 20..80 mm
	Dropouts     float64 // times a month each signal is lost for one to six hours
	Missing      float64 // share of single readings that do not arrive
	ReportBeyond float64 // metres: a device sends only changes larger than this; 0: every scan
	Foam         float64 // minutes of foam per month
	FoamHeight   float64 // metres, largest lift of a radar echo
	Vibration    float64 // metres, fast noise on every instrument

	Seasonal float64 // fraction by which the density swings over the year, amplitude
	Events   Events

	Irregular bool // read untidily: see Feed
}

const (
	perDay   = 1.0 / secondsPerDay
	perMonth = 1.0 / secondsPerMonth
)

// Benign is ordinary service: composition within one per cent, mild weather.
func Benign() Service {
	return Service{
		Name: "benign", Composition: 0.01, CompositionEvery: 10 * 24 * time.Hour, Campaign: 6, Diurnal: 4, Cooling: 1,
		EchoJumps: 1, Dropouts: 0.5, Missing: 0.001,
	}
}

// Harsh is composition three per cent off unseen, product campaigns thirty
// kelvin apart and devices that report by exception.
func Harsh() Service {
	return Service{
		Name: "harsh", Composition: 0.03, CompositionEvery: 4 * 24 * time.Hour, Campaign: 30, Diurnal: 6, Cooling: 3,
		EchoJumps: 3, Dropouts: 1, Missing: 0.001, ReportBeyond: 0.002,
	}
}

// Foaming is harsh service with foam on some days.
func Foaming() Service {
	s := Harsh()
	s.Name, s.Foam, s.FoamHeight = "harsh with foam", 60, 0.060
	return s
}

// Untidy is benign service seen through a bad data path: scans of one to sixty
// seconds, readings sent twice or late, clocks that step, vibration.
func Untidy() Service {
	s := Benign()
	s.Name, s.Irregular, s.Missing, s.Dropouts, s.Vibration = "untidy data", true, 0.01, 2, 0.002
	return s
}

// Eventful is benign service in which people and process do things to the
// gauge: blow-downs, levels beyond the taps, restarts, retuning, calibration,
// summer and winter product.
func Eventful() Service {
	s := Benign()
	s.Name, s.Seasonal = "eventful", 0.008
	s.Events = Events{BlowDowns: 2, Recorded: 0.5, Excursions: 2, Restarts: 2, Retunings: 0.5, Adjusted: 0.2}
	return s
}

// Services are all classes of healthy service.
func Services() []Service { return []Service{Benign(), Harsh(), Foaming(), Untidy(), Eventful()} }

// weather is the state of a Service.
type weather struct {
	service     Service
	composition float64 // fraction now
	product     float64 // fraction the vessel goes to
	campaign    float64 // kelvin now
	wanted      float64 // kelvin the vessel goes to
	toChange    float64 // seconds until the next composition
	cooling     wander
	phase       float64 // radians, of the day
	season      float64 // radians, of the year
	foamLeft    float64 // seconds of foam left
	foamHeight  float64
	foam        wander
	toFoam      float64
}

func newWeather(v Service, s *source) weather {
	w := weather{service: v, phase: 2 * math.Pi * s.uniform(), season: 2 * math.Pi * s.uniform()}
	w.cooling.value = s.normal()
	w.change(s)
	w.campaign, w.composition = w.wanted, w.product
	w.toFoam = w.nextFoam(s)
	return w
}

func (w *weather) change(s *source) {
	w.product = w.service.Composition * s.between(-1, 1)
	w.wanted = w.service.Campaign * s.between(-1, 1)
	w.toChange = math.Inf(1)
	if w.service.CompositionEvery > 0 {
		w.toChange = s.exponential(w.service.CompositionEvery.Seconds())
	}
}

func (w *weather) nextFoam(s *source) float64 {
	if w.service.Foam <= 0 {
		return math.Inf(1)
	}
	const minutesPerBurst = 15
	return s.exponential(secondsPerMonth / (w.service.Foam / minutesPerBurst))
}

func (w *weather) step(dt float64, s *source) {
	if w.toChange -= dt; w.toChange <= 0 {
		w.change(s)
	}
	flushed := -math.Expm1(-dt / 7200) // a vessel is flushed in hours
	w.campaign += (w.wanted - w.campaign) * flushed
	w.composition += (w.product - w.composition) * flushed
	w.phase = math.Mod(w.phase+2*math.Pi*dt*perDay, 2*math.Pi)
	w.season = math.Mod(w.season+2*math.Pi*dt*perDay/365.25, 2*math.Pi)
	w.cooling.step(s, dt, 5400)
	w.foaming(dt, s)
}

func (w *weather) foaming(dt float64, s *source) {
	if w.foamLeft > 0 {
		w.foamLeft -= dt
		w.foam.step(s, dt, 240)
		return
	}
	if w.toFoam -= dt; w.toFoam <= 0 {
		w.toFoam = w.nextFoam(s)
		w.foamLeft = s.between(300, 1500)
		w.foamHeight = s.between(0.010, w.service.FoamHeight)
	}
}

// density is the true density over that of the data sheet's fluid.
func (w *weather) density() float64 {
	return 1 + w.composition + w.service.Seasonal*math.Sin(w.season)
}

// lift is how far foam raises the radar echo now, in metres.
func (w *weather) lift() float64 {
	if w.foamLeft <= 0 {
		return 0
	}
	return w.foamHeight * (1 + math.Tanh(w.foam.value)) / 2
}

// cold is how much colder than usual the chamber is, in kelvin.
func (w *weather) cold() float64 {
	return w.service.Diurnal*math.Sin(w.phase) + w.service.Cooling*w.cooling.value
}
